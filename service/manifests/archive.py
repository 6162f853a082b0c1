"""All papers and files of a quarter in one zip archive, the same bytes for the same figures."""

from collections.abc import Mapping
from io import BytesIO
from types import MappingProxyType
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from service.manifests.figures import QuarterFigures
from service.manifests.pdf import pdf
from service.manifests.tables import tables
from service.manifests.xlsx import xlsx

_NO_TIME = (1980, 1, 1, 0, 0, 0)
"""The first moment a zip archive can write."""
_READABLE = 0o644 << 16


def archive(figures: QuarterFigures, beside: Mapping[str, bytes] = MappingProxyType({})) -> bytes:
    """Give a zip archive of the PDF, the workbook, every CSV, and what is put ``beside`` them."""
    name = f"{figures.site.id}-{figures.quarter}"
    files = {f"{name}.pdf": pdf(figures), f"{name}.xlsx": xlsx(figures)}
    files |= {f"csv/{file}": content for file, content in tables(figures).items()}
    assert not files.keys() & beside.keys(), "two files of one name"
    out = BytesIO()
    with ZipFile(out, "w") as bundle:
        for path, content in {**files, **beside}.items():
            entry = ZipInfo(path, _NO_TIME)
            entry.compress_type, entry.external_attr, entry.create_system = (
                ZIP_DEFLATED, _READABLE, 3
            )  # fmt: skip
            bundle.writestr(entry, content)
    return out.getvalue()
