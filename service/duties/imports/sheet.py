"""The list as a text file: its encoding, its physical lines, and the records they make.

Records are given one at a time with the text they were read from, so that a list of any length
takes no memory. What a cell means is not known here.
"""

import codecs
import csv
import io
import json
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any, BinaryIO, NoReturn

RECORD_MAX = 300_000
"""Characters in one record; the longest event there can be has fewer."""
RECORD_LINES_MAX = 100
"""Physical lines in one record; a quotation mark open for longer was never closed."""
DELIMITERS = (",", ";", "\t", "|")
_BLOCK = 1 << 16
_MARKS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"),
          (codecs.BOM_UTF16_BE, "utf-16-be"))  # fmt: skip


class UnreadableListError(ValueError):
    """The file as a whole cannot be read; nothing of it was recorded."""


@dataclass(frozen=True, slots=True)
class TextFile:
    """A list whose text was found sound from end to end.

    Attributes:
        mark: The byte order mark that it begins with.
        encoding: Its encoding, without regard to the mark.
        lines: How many physical lines it has.
    """

    path: Path
    mark: bytes
    encoding: str
    lines: int

    def open(self) -> io.TextIOWrapper:
        """Open the text behind the mark, line ends as they are."""
        file = self.path.open("rb")
        file.seek(len(self.mark))
        return io.TextIOWrapper(file, self.encoding, newline="")


@dataclass(frozen=True, slots=True)
class Record:
    """One record of a list: cells of a row, or the object of a line; or why there is none.

    Attributes:
        line: The physical line on which it begins, from 1.
        raw: The text as it stands in the file.
    """

    line: int
    raw: str
    cells: Any = None
    reason: str = ""


def sound(path: Path, encoding: str) -> TextFile:
    """Read the file once from end to end, to know its encoding to be right and its length.

    Raises:
        UnreadableListError: it cannot be opened, is no text, or is not in that encoding.
    """
    try:
        with path.open("rb") as file:
            return _sound(path, file, encoding.lower())
    except OSError as why:
        raise UnreadableListError(f"{path.name}: {why.strerror or why}") from why


def _sound(path: Path, file: BinaryIO, encoding: str) -> TextFile:
    head = file.read(4)
    if head.startswith(b"PK\x03\x04"):
        raise UnreadableListError(f"{path.name} is a workbook or archive: save the sheet as CSV")
    mark, codec = _codec(path, head, encoding)
    file.seek(len(mark))
    decoder = codecs.getincrementaldecoder(codec)("strict")
    before, lines, last = len(mark), 0, ""
    while True:
        block = file.read(_BLOCK)
        try:
            text = decoder.decode(block, final=not block)
        except UnicodeDecodeError as error:
            _not_in_encoding(path, codec, error, before + len(block), lines, last)
        lines += _line_ends(last + text) - _line_ends(last)
        last = text[-1:] or last
        before += len(block)
        if not block:
            return TextFile(path, mark, codec, lines + (last not in ("", "\n", "\r")))


def _codec(path: Path, head: bytes, encoding: str) -> tuple[bytes, str]:
    mark, by_mark = next(((m, c) for m, c in _MARKS if head.startswith(m)), (b"", ""))
    if encoding == "auto":
        return mark, by_mark or "utf-8"
    plain = encoding.removesuffix("-sig")
    if encoding == "utf-16" and not by_mark.startswith("utf-16"):
        raise UnreadableListError(
            f"{path.name} has no byte order mark: say encoding utf-16-le or utf-16-be"
        )
    if by_mark and not by_mark.startswith(plain):
        raise UnreadableListError(
            f"{path.name} begins with the byte order mark of {by_mark}, but the mapping says "
            f"encoding {encoding}"
        )
    return mark, by_mark or plain


def _not_in_encoding(
    path: Path, codec: str, error: UnicodeDecodeError, read: int, lines: int, last: str
) -> NoReturn:
    offset = read - len(error.object) + error.start
    good = error.object[: error.start].decode(codec, "replace")
    line = lines + _line_ends(last + good) - _line_ends(last) + 1
    hint = " a list saved by an older program is often cp1252;" if codec == "utf-8" else ""
    raise UnreadableListError(
        f"{path.name} is not in {codec}: byte {error.object[error.start]:#04x} at offset {offset} "
        f"(line {line}) cannot be read;{hint} say the right encoding in the mapping. Nothing was "
        "recorded."
    ) from error


def _line_ends(text: str) -> int:
    return text.count("\n") + text.count("\r") - text.count("\r\n")


class Lines:
    """The physical lines of a text, counted; lines looked at ahead can be put back."""

    def __init__(self, text: io.TextIOBase) -> None:
        self._text = text
        self._back: deque[str] = deque()
        self.number = 0

    def read(self) -> str:
        """Give the next line, or an empty text at the end; of one too long only the beginning."""
        line = self._back.popleft() if self._back else self._text.readline(RECORD_MAX + 1)
        if len(line) > RECORD_MAX and not line.endswith(("\n", "\r")):
            while (rest := self._text.readline(_BLOCK)) and not rest.endswith(("\n", "\r")):
                pass
            line = line[:RECORD_MAX] + "\n" * 2  # past the limit, and whole when read again
        self.number += bool(line)
        return line

    def put_back(self, lines: list[str]) -> None:
        """Take lines back, to be read again."""
        self._back.extendleft(reversed(lines))
        self.number -= len(lines)


class _OpenError(Exception):
    """A record goes on and on."""


def row(lines: Lines, delimiter: str) -> Record | None:
    """Give the next row by RFC 4180, blank or not, or None at the end of the list.

    Where a quotation mark was never closed, only the line on which it opens is given up.
    """
    taken: list[str] = []

    def feed() -> Iterator[str]:
        size = 0
        while line := lines.read():
            taken.append(line)
            size += len(line)
            if len(taken) > RECORD_LINES_MAX or size > RECORD_MAX:
                raise _OpenError
            yield line

    try:
        cells = next(csv.reader(feed(), delimiter=delimiter, strict=True), None)
    except (csv.Error, _OpenError) as why:
        lines.put_back(taken[1:])
        return Record(lines.number, taken[0], None, _why_no_row(taken[0], why))
    if cells is None:
        return None
    first, raw = lines.number - len(taken) + 1, "".join(taken)
    if "\0" in raw:
        return Record(first, raw, None, "the line holds a NUL character, which no text has")
    return Record(first, raw, cells)


def _why_no_row(line: str, why: Exception) -> str:
    if len(line) > RECORD_MAX:
        return f"the line has more than {RECORD_MAX} characters; only its beginning is kept here"
    if isinstance(why, csv.Error) and "field larger" in str(why):
        return "one cell of the line is too long"
    return "a quotation mark opens on this line and is not closed before a separator"


def rows(lines: Lines, delimiter: str) -> Iterator[Record]:
    """Give the rows that hold anything."""
    while (record := row(lines, delimiter)) is not None:
        if record.reason or any(cell.strip() for cell in record.cells):
            yield record


def objects(lines: Lines) -> Iterator[Record]:
    """Give the value of each line of JSON Lines; numbers stay exact."""
    while raw := lines.read():
        if not raw.strip():
            continue
        if len(raw) > RECORD_MAX:
            yield Record(lines.number, raw, None, _why_no_row(raw, _OpenError()))
            continue
        try:
            yield Record(lines.number, raw, _DECODER.decode(raw.strip()))
        except RecursionError:
            yield Record(lines.number, raw, None, "the line is nested too deep")
        except (ValueError, ArithmeticError) as why:
            yield Record(lines.number, raw, None, f"the line is not JSON: {why}")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    read = dict(pairs)
    if len(read) < len(pairs):
        keys = [key for key, _ in pairs]
        raise ValueError(f"the key '{next(k for k in keys if keys.count(k) > 1)}' is there twice")
    return read


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is not a number of JSON")


_DECODER = json.JSONDecoder(object_pairs_hook=_once, parse_float=Decimal, parse_constant=_no_number)
