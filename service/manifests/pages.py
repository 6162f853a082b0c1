"""The pages of a PDF, out of memory as soon as each is drawn; the bytes are those of the library.

The library keeps whatever was drawn until the document is saved, and then makes all of it at once.
"""

from functools import partial
from tempfile import TemporaryFile
from typing import Any, BinaryIO
from weakref import finalize

from reportlab import rl_config
from reportlab.pdfbase.pdfdoc import (
    PDFBase85Encode,
    PDFCrossReferenceTable,
    PDFDocument,
    PDFFile,
    PDFIndirectObject,
    PDFObject,
    PDFPage,
    PDFStream,
    PDFTrailer,
    PDFZCompress,
)
from reportlab.pdfgen.canvas import Canvas


class _Drawn(PDFObject):  # type: ignore[misc]  # the library has no types
    """What was drawn on a page, as the document is to have it, in a file."""

    __RefOnly__ = 1

    def __init__(self, file: BinaryIO, drawn: bytes) -> None:
        self._file, self._length = file, len(drawn)
        self._start = file.seek(0, 2)
        file.write(drawn)

    def format(self, _: PDFDocument) -> bytes:
        """Give it, as the library asks."""
        self._file.seek(self._start)
        return self._file.read(self._length)


class Pages:
    """The pages of one document."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas, self._document = canvas, canvas._doc
        self._file = TemporaryFile()  # noqa: SIM115  closed when the document is written
        finalize(self, self._file.close)

    def turn(self) -> None:
        """End the page that is being drawn."""
        name = self._document.thisPageName()
        self._canvas.showPage()
        page: PDFPage = self._document.idToObject[name]
        filters = [PDFBase85Encode, PDFZCompress] if rl_config.useA85 else [PDFZCompress]
        drawn = PDFStream(content=page.stream, filters=filters)
        page.Contents, page.stream = _Drawn(self._file, drawn.format(self._document)), None

    def write(self, out: BinaryIO) -> None:
        """Write the document."""
        self._document.format = partial(_write, self._document, out)
        self._document.GetPDFData(self._canvas)


def _write(document: Any, out: BinaryIO) -> None:
    """Do what ``PDFDocument.format`` does of a document that is not encrypted, piece by piece."""
    root, info = document.Reference(document.Catalog), document.Reference(document.info)
    file = document.__accum__ = PDFFile(document._pdfVersion)
    out.write(b"".join(file.strings))
    file.write = out.write
    ids: list[str] = []
    while (name := document.numberToId.get(len(ids) + 1)) is not None:
        held = document.idToObject[name]
        document.idToOffset[name] = file.add(PDFIndirectObject(name, held).format(document))
        if isinstance(held, PDFPage):
            held.Resources = held.MediaBox = None
        ids.append(name)
    del document.__accum__
    table = PDFCrossReferenceTable()
    table.addsection(0, ids)
    start = file.add(table.format(document))
    trailer = PDFTrailer(
        startxref=start, Size=len(ids) + 1, Root=root, Info=info, Encrypt=None, ID=document.ID()
    )
    file.add(trailer.format(document))
