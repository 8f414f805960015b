"""Where kept files lie, as one variable says it: the data folder, or an S3-compatible store."""

from __future__ import annotations

from importlib.util import find_spec
from typing import Any
from urllib.parse import parse_qsl, urlsplit

from studio.kit.data_folder import Unfit

VARIABLE = "KEPT_FILES"
_HOW = (f"{VARIABLE} is s3://BUCKET, s3://BUCKET/FOLDER, and behind a question mark, where they are needed, "
        "endpoint=https://… and region=NAME, with an ampersand between them; or it is not set, for the data folder.")
_MAY_SAY = {"endpoint": "endpoint_url", "region": "region_name"}


def storage(said: str) -> dict[str, Any]:
    """Return the entry of STORAGES for kept files.

    said: "" for the data folder, or s3://BUCKET/FOLDER?endpoint=URL&region=NAME. Keys are never in it: they are the
    environment's AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY, or whatever else boto3 finds. Raises Unfit.
    """
    if not said:
        return {"BACKEND": "studio.house.kept_in_folder.InFolder"}
    address = urlsplit(said)
    asked = dict(parse_qsl(address.query, keep_blank_values=True))
    if address.scheme != "s3" or not address.hostname or address.netloc != address.hostname or not asked.keys() <= (
            _MAY_SAY.keys()) or not all(asked.values()):
        raise Unfit(_HOW)
    if not (find_spec("storages") and find_spec("boto3")):
        raise Unfit(f"{VARIABLE} names a store, for which the packages of the extra “store” are needed: "
                    "pip install '.[store]', or the locked requirements.txt, which has them.")
    return {"BACKEND": "studio.house.kept_in_store.InStore", "OPTIONS": {
        "bucket_name": address.hostname, "location": address.path.strip("/"),
        **{_MAY_SAY[name]: value for name, value in asked.items()},
    }}
