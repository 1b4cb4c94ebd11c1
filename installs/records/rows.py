"""Some rows of a sheet on their way into the records, and why some of them are refused."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from installs.records.book import Chunk

__all__ = ["Rows"]


class Rows:
    """The rows of one chunk: cells as they came, values as they are understood, reasons.

    Every array is as long as the chunk. `values` has one a model path (or a column's name, where
    it only leads to one); `compared` are the paths whose change is a change of the row; `absolute`
    the absolute pressures from which gauge pressures are to come, by path; `blank` remembers which
    cells were blank where that means 'as it is on record'. `headers` tells how the book writes a
    column of ours, so that reasons name what the reader sees.
    """

    def __init__(self, chunk: Chunk, headers: dict[str, str]):
        self.cells = chunk.cells
        self.numbers = chunk.cells.index.to_numpy()
        self.headers = dict(headers)
        self.values: dict[str, NDArray] = {}
        self.compared: list[str] = []
        self.absolute: dict[str, NDArray] = {}
        self.blank: dict[str, NDArray] = {}
        self.ok = np.ones(len(self.numbers), dtype=bool)
        self.reasons: dict[int, list[tuple[str, str]]] = {}

    def __len__(self) -> int:
        return len(self.numbers)

    def compare(self, path: str, values) -> None:
        """Take in values that count as a change where they differ from what is on record."""
        self.values[path] = np.asarray(values)
        self.compared.append(path)

    def enter(self, moments: NDArray) -> None:
        """Take these moments for when the rows were written down, where they do not say it."""
        entered_at = self.values.setdefault("entered_at", np.full_like(moments, "NaT"))
        entered_at[:] = np.where(np.isnat(entered_at), moments, entered_at)

    def refuse(self, where: NDArray, column: str, words: str | Callable[[int], str]) -> None:
        """Refuse rows, by mask or by position; words may depend on the position."""
        places = np.flatnonzero(where) if where.dtype == bool else where
        header = self.headers.get(column, column)
        for place in places.tolist():
            reason = words(place) if callable(words) else str(words)
            self.reasons.setdefault(place, []).append((header, reason))
        self.ok[places] = False
