"""A table on disk, written as rows come and put in its place when it is whole."""

from __future__ import annotations

import csv
import os
import tempfile
from abc import ABC, abstractmethod
from collections.abc import Iterable
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from analyser.errors import ReportError, UsageError
from analyser.logbook.place import refuse_database
from analyser.work.table import COLUMNS, Cell, Row

#: Text that begins with one of these is run as a formula by some spreadsheets (common advice on formula
#: injection); tab and line ends are stripped by some of them, and then the next sign is first.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
#: Rows gathered before a group is written: parquet's columns want some length.
_GROUP_ROWS = 5_000


class TableFile(ABC):
    """A table under way; leaving its ``with`` statement without an error puts it in its place.

    Parameters
    ----------
    path : Path
        Where it will be.

    Raises
    ------
    ReportError
        The folder cannot be written.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.rows = 0
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(prefix=f".{path.name[:40]}.", suffix=".part", dir=path.parent)
        except OSError as error:
            raise _cannot(path, error) from error
        os.close(handle)
        self._temporary = Path(name)

    def add(self, rows: Iterable[Row]) -> None:
        """Append rows.

        Raises
        ------
        ReportError
            They cannot be written.
        """
        try:
            for row in rows:
                self._write(row)
                self.rows += 1
        except OSError as error:
            raise _cannot(self.path, error) from error

    @abstractmethod
    def _write(self, row: Row) -> None: ...

    @abstractmethod
    def _finish(self) -> None:
        """Write what is left and close."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            self._finish()
            if kind is None:
                self._put_in_place()
        except OSError as error:
            if kind is None:
                raise _cannot(self.path, error) from error
        finally:
            self._temporary.unlink(missing_ok=True)

    def _put_in_place(self) -> None:
        # Asked again: a new logbook may have been begun there meanwhile.
        refuse_database(self.path)
        with self._temporary.open("rb+") as file:
            os.fsync(file.fileno())
        mask = os.umask(0)
        os.umask(mask)
        self._temporary.chmod(self.path.stat().st_mode & 0o777 if self.path.exists() else 0o666 & ~mask)
        self._temporary.replace(self.path)


class CsvFile(TableFile):
    """Comma-separated values: UTF-8, a heading, a point for decimals, an empty cell for what is not known."""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self._stream = self._temporary.open("w", encoding="utf-8", newline="")
        self._writer = csv.writer(self._stream, lineterminator="\n")
        self._writer.writerow(COLUMNS)

    def _write(self, row: Row) -> None:
        self._writer.writerow([csv_cell(cell) for cell in row])

    def _finish(self) -> None:
        self._stream.close()


class ParquetFile(TableFile):
    """Columns with their types, for which pyarrow is needed."""

    def __init__(self, path: Path) -> None:
        try:
            import pyarrow as pa
            import pyarrow.parquet as pq
        except ImportError as error:
            raise UsageError(
                "a parquet file needs pyarrow",
                place="--table",
                mend="pip install 'analyser[parquet]', or write a .csv",
            ) from error
        super().__init__(path)
        kinds = {str: pa.string(), float: pa.float64(), int: pa.int64(), bool: pa.bool_()}
        self._pa: Any = pa
        self._schema = pa.schema([(name, kinds[kind]) for name, kind in COLUMNS.items()])
        self._writer = pq.ParquetWriter(str(self._temporary), self._schema)
        self._waiting: list[Row] = []

    def _write(self, row: Row) -> None:
        self._waiting.append(row)
        if len(self._waiting) >= _GROUP_ROWS:
            self._write_group()

    def _write_group(self) -> None:
        columns = list(zip(*self._waiting, strict=True)) or [() for _ in COLUMNS]
        arrays = [
            self._pa.array(column, type=field.type)
            for column, field in zip(columns, self._schema, strict=True)
        ]
        self._writer.write_table(self._pa.Table.from_arrays(arrays, schema=self._schema))
        self._waiting.clear()

    def _finish(self) -> None:
        if self._waiting or not self.rows:
            self._write_group()
        self._writer.close()


def open_table(path: Path) -> TableFile:
    """Begin a table.

    Parameters
    ----------
    path : Path
        ``.csv`` or ``.parquet``.


    Raises
    ------
    UsageError
        Another ending, a library that is missing, or a database that would be written over.
    ReportError
        The folder cannot be written.
    """
    kinds = {".csv": CsvFile, ".parquet": ParquetFile}
    kind = kinds.get(path.suffix.lower())
    if kind is None:
        raise UsageError(
            f"'{path}' is no kind of table",
            place="--table",
            mend="write a name that ends in .csv or .parquet",
        )
    if path.is_dir():
        raise UsageError(f"'{path}' is a folder", place="--table", mend="name a file")
    refuse_database(path)
    return kind(path)


def csv_cell(cell: Cell) -> Cell:
    """Make a cell safe for any program that opens the file.

    Returns
    -------
    Cell
        Numbers as they are, also negative ones; text that would be taken for a formula with an apostrophe
        in front, which a spreadsheet takes for "this is text"; true and false in small letters.
    """
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if not isinstance(cell, str):
        return cell
    text = cell.encode("utf-8", "replace").decode("utf-8").replace("\x00", "\N{REPLACEMENT CHARACTER}")
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA) else text


def _cannot(path: Path, error: OSError) -> ReportError:
    return ReportError(
        f"the table could not be written: {error.strerror or error}",
        file=str(path),
        mend="check the folder's permissions and the free space, or choose another",
    )
