"""An upload over the limit is refused at once: none of it is kept."""

from typing import Any

from django.core.files.uploadhandler import FileUploadHandler, StopUpload

from programs.enrolment.calc.lists.letters import MAX_BYTES

SLACK = 64 * 1024  # the form around the file


class SizeCappedUploadHandler(FileUploadHandler):
    def handle_raw_input(
        self,
        input_data: Any,
        META: Any,  # noqa: N803 - Django’s own name
        content_length: int,
        *args: Any,
        **kwargs: Any,
    ) -> None:
        self.size = content_length
        if self.request is not None and content_length > MAX_BYTES + SLACK:
            self.request.refused_upload_bytes = content_length  # type: ignore[attr-defined]

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes:
        if self.size > MAX_BYTES + SLACK:
            raise StopUpload(connection_reset=False)
        return raw_data

    def file_complete(self, file_size: int) -> None:
        return None
