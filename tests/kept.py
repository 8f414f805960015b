"""Where kept files lie, for tests that look there or do harm: the data folder, and an S3-compatible store on loopback."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import boto3
from django.conf import settings
from moto.moto_server.threaded_moto_server import ThreadedMotoServer

BUCKET, FOLDER = "daybook", "a-studio"
KEYS = {"AWS_ACCESS_KEY_ID": "an-id", "AWS_SECRET_ACCESS_KEY": "a-word", "AWS_EC2_METADATA_DISABLED": "true"}


def path_of(sha256: str) -> Path:
    """Return where the data folder keeps a file."""
    return Path(settings.FILES) / sha256[:2] / sha256


class Store:
    """An S3-compatible store that is running, and its one bucket."""

    def __init__(self) -> None:
        self._server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
        self._server.start()
        host, port = self._server.get_host_and_port()
        self.address = f"http://{host}:{port}"
        self.client: Any = boto3.client("s3", endpoint_url=self.address, region_name="us-east-1",
                                        aws_access_key_id="an-id", aws_secret_access_key="a-word")
        self.client.create_bucket(Bucket=BUCKET)

    @property
    def kept_files(self) -> str:
        """Return what KEPT_FILES says of it."""
        return f"s3://{BUCKET}/{FOLDER}?endpoint={self.address}&region=us-east-1"

    def names(self) -> list[str]:
        """Return all that lies in the bucket, and what was begun there and not ended."""
        pages = self.client.get_paginator("list_objects_v2").paginate(Bucket=BUCKET)
        begun = self.client.list_multipart_uploads(Bucket=BUCKET).get("Uploads", [])
        return sorted(one["Key"] for page in pages for one in page.get("Contents", ())) + [one["Key"] for one in begun]

    def put(self, sha256: str, content: bytes) -> None:
        self.client.put_object(Bucket=BUCKET, Key=f"{FOLDER}/{sha256[:2]}/{sha256}", Body=content)

    def remove(self, sha256: str) -> None:
        self.client.delete_object(Bucket=BUCKET, Key=f"{FOLDER}/{sha256[:2]}/{sha256}")

    def empty(self) -> None:
        for name in self.names():
            self.client.delete_object(Bucket=BUCKET, Key=name)

    def stop(self) -> None:
        self.client.close()
        self._server.stop()


@contextmanager
def store() -> Iterator[Store]:
    """Run a store on loopback."""
    former = {name: os.environ.get(name) for name in KEYS}
    os.environ.update(KEYS)
    running = Store()
    try:
        yield running
    finally:
        running.stop()
        for name, value in former.items():
            os.environ.pop(name) if value is None else os.environ.update({name: value})
