"""Text, paper and workbook: made anew from the record and compared byte by byte."""

from collections.abc import Iterable

from service.bundles import names
from service.bundles.archive import BundleError, unpacked
from service.bundles.checks.case import Case
from service.bundles.howto import how_to
from service.bundles.material import PAPER_IS_MADE_BY, TOOL, WORKBOOK_IS_MADE_BY
from service.bundles.reading import Unknown, Unsound
from service.manifests.pdf import pdf
from service.manifests.xlsx import xlsx


def text(case: Case) -> str:
    """The text for who has no tool is ours."""
    told, parts = case.parts.told, case.parts
    if parts.text(names.HOW_TO) == how_to(told, len(parts.keys), parts.warned):
        return f"{names.HOW_TO} is the text of this tool"
    if case.same_tool:
        raise Unsound(f"{names.HOW_TO} is not the text that this tool writes")
    raise Unknown(f"{names.HOW_TO} is of another version of the tool: do not rely on it unread")


def paper(case: Case) -> str:
    """The PDF is the one that the figures give."""
    name = f"{case.parts.told.paper}.pdf"
    if case.parts.file(name) == pdf(case.figures):
        return f"{name}, the very bytes"
    raise _other(case, name, PAPER_IS_MADE_BY, "its figures were not read; the tables hold them")


def workbook(case: Case) -> str:
    """The workbook is the one that the figures give."""
    name = f"{case.parts.told.paper}.xlsx"
    said, made = case.parts.file(name), xlsx(case.figures)
    if said == made:
        return f"{name}, the very bytes"
    others = case.parts.told.others(["zlib", "python"])
    if others and _inside(said, case) == _inside(made, case):
        return f"{name}, the very sheets, packed by another version ({', '.join(others)})"
    raise _other(case, name, WORKBOOK_IS_MADE_BY, "its cells were not read; the tables hold them")


def _inside(book: bytes, case: Case) -> list[tuple[str, bytes]] | None:
    """Give the parts of a workbook, which is a zip file; None if it cannot be unpacked."""
    try:
        files = unpacked(book, any_name=True, most=case.parts.most)
        return [(file.name, file.content) for file in files]
    except BundleError:
        return None


def _other(case: Case, name: str, made_by: Iterable[str], rest: str) -> Exception:
    """Say what it means that a file is another: a fault, unless other libraries made it."""
    others = case.parts.told.others([TOOL, *made_by])
    if others:
        return Unknown(f"{name} was made with {'; '.join(others)}, and is not the same: {rest}")
    return Unsound(f"{name} is not the one that the figures give")
