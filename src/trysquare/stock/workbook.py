"""A workbook as bytes, whatever of the system stands in the way told as such."""

from __future__ import annotations

import errno
import io
from typing import Any


def workbook_bytes(book: Any) -> bytes:
    """The content of an openpyxl workbook.

    On the way its sheets go through files of the system's own folder for such. Raises OSError when that takes
    no more; lxml, where it is there, says this with an error of its own.
    """
    content = io.BytesIO()
    try:
        book.save(content)
    except Exception as error:
        if type(error).__name__ != "SerialisationError":
            raise
        raise OSError(errno.ENOSPC, f"No room for the system's temporary files ({error})") from error
    return content.getvalue()
