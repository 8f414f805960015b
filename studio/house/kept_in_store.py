"""Kept files in an S3-compatible store, by Django's storage API. Imported only where KEPT_FILES names one.

A file is one request: it is there whole or not at all, and nothing lies half in the bucket. What the store says when it
does not answer, or refuses, is told in words.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from boto3.exceptions import Boto3Error
from boto3.s3.transfer import TransferConfig
from botocore.config import Config
from botocore.exceptions import BotoCoreError, ClientError
from django.core.files.base import ContentFile, File
from storages.backends.s3 import S3Storage
from storages.utils import clean_name

from studio.kit.trouble import InTrouble, Trouble

SILENT = Trouble(title="The store of kept files does not answer", sentence=(
    "What needs no kept file works, and what was saved before is safe; no paper or picture can be shown or saved just "
    "now. Whoever looks after this server: see that the store runs, that KEPT_FILES names it, and that its key may "
    "list, read, write and delete there; then send this again."))
#: a file of this size or more would be sent in parts; none is so large
_IN_PARTS = 1 << 32
#: seconds; tries of one request in all
_TO_CONNECT, _TO_ANSWER, _TRIES = 5, 30, 3
log = logging.getLogger(__name__)


class InStore(S3Storage):
    """A bucket, or a folder of one. Raises FileNotFoundError, and InTrouble where the store is silent or refuses."""

    place = "the store"

    def __init__(self, **given: Any) -> None:
        super().__init__(**{
            "default_acl": None, "file_overwrite": True, "gzip": False,
            "transfer_config": TransferConfig(multipart_threshold=_IN_PARTS, use_threads=False),
            # sums of its own are not asked for: stores are at odds about them, and every file read is summed here
            "client_config": Config(
                connect_timeout=_TO_CONNECT, read_timeout=_TO_ANSWER, retries={"total_max_attempts": _TRIES},
                request_checksum_calculation="when_required", response_checksum_validation="when_required",
            ),
            **given,
        })

    def _open(self, name: str, mode: str = "rb") -> File[Any]:
        """Return a file read to its end, so that one that breaks off is never taken for whole."""
        if mode != "rb":
            raise ValueError("A kept file is only read: it is written by save, whole.")
        with _told():
            try:
                answer = self.connection.meta.client.get_object(
                    Bucket=self.bucket_name, Key=self._normalize_name(clean_name(name)))
            except ClientError as refused:
                if refused.response["Error"].get("Code") == "NoSuchKey":
                    raise FileNotFoundError(name) from refused
                raise
            return ContentFile(answer["Body"].read(), name)

    def _save(self, name: str, content: File[Any]) -> str:
        with _told():
            return str(super()._save(name, content))

    def exists(self, name: str) -> bool:
        with _told():
            return bool(super().exists(name))

    def delete(self, name: str) -> None:
        with _told():
            super().delete(name)

    def listdir(self, path: str) -> tuple[list[str], list[str]]:
        with _told():
            folders, files = super().listdir(path)
            return folders, files


@contextmanager
def _told() -> Iterator[None]:
    try:
        yield
    except (BotoCoreError, Boto3Error, ClientError) as silent:
        log.error("%s: %s", SILENT.title, silent)
        raise InTrouble(SILENT) from silent
