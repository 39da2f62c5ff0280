"""A file of plots for spreadsheets: one row a plot, weed and rating date.

Every row that cannot be used is named with its line, its column and what would be right. What is written
by `write_trials` is read back to equal trials.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from app.engine.errors import FieldFault, InputError
from app.services import trial_cells as cells_of
from app.services.csv_columns import shown
from app.services.csv_text import MAX_BYTES, parting, records, refused
from app.services.knowledge_service import knowledge_base
from app.services.label_text import Unreadable
from app.services.trial_columns import columns_of, is_known, refuse_unrated
from app.services.trial_names import CHECKS, names_in, plain
from app.services.trial_treatments import Guessed, Told, treatment_of
from app.services.validation import validated
from app.store.names import name_key
from app.trials.trial import CHECK, Design, Plot, Trial
from knowledge.base import KnowledgeBase

MAX_ROWS = 60_000
_LONGEST = {"trial": 120, "weed": 80, "treatment": 120, "rep": 40, "place": 120}
_NAMES = ("trial", "weed", "treatment", "rep")
_PERCENT = ("control_pct", "injury_pct", "cover_pct", "cover_before_pct")
_OF_TREATMENT = ("actives", "rate", "form", "adjuvant", "applications")
_OF_TRIAL = ("place", "applied", "season", "design", "kind", "turf")
_FIGURES = (*_PERCENT, "days_after", "rate")


@dataclass(frozen=True)
class RowFault:
    """Why a row cannot be used; `column` is its heading, empty where the row as a whole is at fault."""

    line: int
    column: str
    message: str
    trial: str = ""

    def __str__(self) -> str:
        return f"line {self.line}{f', {self.column}' if self.column else ''}: {self.message}"


@dataclass(frozen=True)
class ReadTrials:
    """What a file of plots holds.

    Attributes
    ----------
    trials : tuple of Trial
        The trials without a fault.
    faults : tuple of RowFault
        Every fault, by line.
    ignored : tuple of str
        Headings that this does not read.
    columns : dict of str to str
        Heading in the file by known name.
    guessed : tuple of Guessed
        What was understood from the names of treatments alone.
    notices : tuple of str
        How names were read, and what moves no advice.
    """

    trials: tuple[Trial, ...]
    faults: tuple[RowFault, ...]
    ignored: tuple[str, ...]
    columns: dict[str, str]
    guessed: tuple[Guessed, ...] = ()
    notices: tuple[str, ...] = ()


@dataclass
class _Gathered:
    """A trial as far as its rows were read."""

    name: str
    line: int
    plots: list[Plot] = field(default_factory=list)
    told: Told = field(default_factory=dict)
    names: dict[tuple[str, str], str] = field(default_factory=dict)
    treatments: dict[str, Told] = field(default_factory=dict)
    lines: dict[tuple[str, int, str, str], int] = field(default_factory=dict)

    def named(self, what: str, name: str) -> str:
        """A name in the spelling in which it first stood in this trial."""
        return self.names.setdefault((what, name_key(name)), name)


def read_trials(text: str, columns: Mapping[str, str] | None = None, design: Design | None = None) -> ReadTrials:
    """The trials of a file, and every row that cannot be used.

    Parameters
    ----------
    text : str
        The file.
    columns : dict of str to str, optional
        Headings by known name; those not given are guessed.
    design : str, optional
        Design of every trial of the file, whatever the file says.

    Raises
    ------
    InputError
        Where the file as a whole cannot be used: a needed column missing or meant twice, no row,
        no rating in any row, too many rows, no text.
    """
    found, header, sign = _opened(text, columns)
    at = columns_of(header, columns)
    rows: list[tuple[int, list[str]]] = []
    for row in found:
        if len(rows) == MAX_ROWS:
            raise refused(f"the file holds more than {MAX_ROWS:,} rows; split it by trials into several")
        rows.append(row)
    if not rows:
        raise refused("the file holds headings but no plot")
    refuse_unrated(header, at, [cells for _, cells in rows])
    reader = _Reader(knowledge_base(), [shown(cell) for cell in header], at, decimal_comma=sign == ";")
    for line, cells in rows:
        reader.read(line, cells)
    return reader.done(design)


def headings_of(text: str) -> tuple[str, ...]:
    """The headings of a file.

    Raises
    ------
    InputError
        Where there is no text, or it holds no first line.
    """
    _, header, _ = _opened(text, None)
    if not any(map(is_known, header)):
        # No heading is known: the sign that parts the line into most cells is taken.
        _, header = next(records(text, parting(text, lambda cell: bool(cell.strip()))))
    return tuple(shown(cell) for cell in header)


def _opened(text: str, columns: Mapping[str, str] | None) -> tuple[Iterator[tuple[int, list[str]]], list[str], str]:
    """The records of a file after its first line, the cells of that line, and the sign between cells."""
    _bounded(text)
    sign = parting(text, lambda cell: is_known(cell, columns))
    found = records(text, sign)
    _, header = next(found, (1, []))
    while header and not header[-1].strip():
        header.pop()
    if not header:
        raise refused("the file is empty; its first line holds the headings of the columns")
    return found, header, sign


def trials_of(text: str, columns: Mapping[str, str] | None = None, design: Design | None = None) -> tuple[Trial, ...]:
    """The trials of a file of which every row can be used.

    Raises
    ------
    InputError
        Naming the first row that cannot be used, and how many more there are.
    """
    read = read_trials(text, columns, design)
    no_faults(read)
    return read.trials


def no_faults(read: ReadTrials) -> None:
    """Refuse a file with rows that cannot be used.

    Raises
    ------
    InputError
        Naming the first of them, and how many more there are.
    """
    if read.faults:
        more = f" ({len(read.faults) - 1:,} more)" if len(read.faults) > 1 else ""
        raise refused(f"{read.faults[0]}{more}")


def _bounded(text: str) -> None:
    try:
        size = len(text.encode()) if len(text) <= MAX_BYTES else len(text)
    except UnicodeEncodeError as error:
        raise refused("the text holds half a letter that no file can hold; save it as CSV, UTF-8") from error
    if size > MAX_BYTES:
        raise refused(f"the file is larger than {MAX_BYTES // 1024 // 1024} MiB; split it by trials into several")
    if "\x00" in text:
        raise refused("this is no text file; choose a CSV file")


def _same(cell: str) -> str:
    return cell


class _Reader:
    """Reads rows into trials; a cell that was read once is not read again."""

    def __init__(self, base: KnowledgeBase, header: list[str], at: dict[str, int], *, decimal_comma: bool) -> None:
        self.base, self.header, self.at, self.decimal_comma = base, header, at, decimal_comma
        self.names = names_in(base)
        self.trials: dict[str, _Gathered] = {}
        self.faults: list[RowFault] = []
        self.notices: dict[str, None] = {}
        self.known: dict[tuple[str, str], Any] = {}
        self.bad: set[str] = set()
        self.cells: dict[str, Callable[[str], Any]] = {
            **dict.fromkeys(_PERCENT, cells_of.percent),
            **dict.fromkeys(("trial", "rep", "stage", "place"), _same),
            "weed": self._weed,
            "treatment": self._treatment,
            "days_after": cells_of.days,
            "actives": lambda cell: cells_of.actives(self.base, self.names, cell),
            "rate": lambda cell: cells_of.rates(cell, decimal_comma=self.decimal_comma),
            "form": cells_of.forms,
            "adjuvant": lambda cell: cells_of.adjuvant(self.base, self.names, cell),
            "applications": cells_of.applications,
            "turf": lambda cell: cells_of.turf(self.base, self.names, cell),
            "applied": cells_of.day,
            "season": cells_of.season,
            "design": cells_of.design,
            "kind": cells_of.kind,
        }

    def read(self, line: int, cells: list[str]) -> None:
        """One row."""
        while len(cells) > len(self.header) and not cells[-1].strip():
            cells.pop()
        if len(cells) != len(self.header):
            counts = f"has {len(cells)} cells where the first line has {len(self.header)} headings"
            trial = cells[self.at["trial"]] if self.at["trial"] < len(cells) else ""
            self._at_fault(line, "", f"{counts}; a cell with commas stands in quotation marks", trial[:120].strip())
            return
        values: dict[str, Any] = {}
        faults: list[tuple[str, str]] = []
        for column, index in self.at.items():
            try:
                values[column] = self._value(column, cells[index])
            except Unreadable as error:
                faults.append((column, str(error)))
        trial = values.get("trial", "")
        for column, message in faults:
            self._at_fault(line, column, message, trial)
        if trial:
            self._gather(line, values)

    def _value(self, column: str, cell: str) -> Any:
        key = (column, cell)
        if key not in self.known:
            try:
                self.known[key] = self._fresh(column, cell)
            except Unreadable as error:
                self.known[key] = error
        found = self.known[key]
        if isinstance(found, Unreadable):
            raise found
        return found

    def _fresh(self, column: str, cell: str) -> Any:
        if cells_of.is_blank(cell):
            if column in (*_NAMES, "days_after"):
                raise Unreadable("is empty; every row names its trial, weed, days after, treatment and replicate")
            return None
        if column in _FIGURES:
            return self.cells[column](cells_of.pointed(cell) if self.decimal_comma else cell)
        return self.cells[column](cells_of.text(cell, _LONGEST.get(column, 400)))

    def _weed(self, cell: str) -> str:
        found = self.names.weed(cell)
        if len(found) == 1:
            if plain(cell) not in (plain(found[0]), plain(self.base.weed_names[found[0]].name)):
                self._notice(f"'{cell}' is read as {self.base.weed_names[found[0]].name}")
            return found[0]
        if found:
            which = f"may be any of {', '.join(found)}; write which one it is"
            self._notice(f"'{cell}' {which}, until then it moves no advice")
        else:
            self._notice(f"'{cell}' is no weed of the knowledge base, so it moves no advice")
        return cell

    def _treatment(self, cell: str) -> str:
        if plain(cell) in CHECKS:
            if cell.casefold() != CHECK:
                self._notice(f"the treatment '{cell}' is read as the check, {CHECK}")
            return CHECK
        return cell

    def _notice(self, text: str) -> None:
        self.notices.setdefault(text)

    def _at_fault(self, line: int, column: str, message: str, trial: str = "") -> None:
        heading = self.header[self.at[column]] if column in self.at else column
        self.faults.append(RowFault(line, heading, message, trial))
        self.bad.add(name_key(trial))

    def _gather(self, line: int, values: dict[str, Any]) -> None:
        trial = self.trials.setdefault(name_key(values["trial"]), _Gathered(values["trial"], line))
        for column in _OF_TRIAL:
            self._agrees(line, trial, trial.told, column, values.get(column), "trial", trial.name)
        weed, days, treatment, rep = (values.get(name) for name in ("weed", "days_after", "treatment", "rep"))
        if treatment is None:
            return
        treatment = trial.named("treatment", treatment)
        told = trial.treatments.setdefault(treatment, {})
        for column in _OF_TREATMENT:
            self._agrees(line, trial, told, column, values.get(column), "treatment", treatment)
        if weed is None or days is None or rep is None:
            return
        weed, rep = trial.named("weed", weed), trial.named("rep", rep)
        if values.get("stage") is not None:
            self._stage(line, trial, told, weed, values["stage"])
        plot = (weed, days, treatment, rep)
        if plot in trial.lines:
            which = f"{treatment}, replicate {rep}, {weed}, {days} days after"
            what = f"stands in line {trial.lines[plot]} and in line {line}; give each plot once a rating date"
            self._at_fault(line, "rep", f"the plot {which} {what}", trial.name)
            return
        trial.lines[plot] = line
        figures = {name: values.get(name) for name in _PERCENT}
        trial.plots.append(Plot(weed=weed, days_after=days, treatment=treatment, rep=rep, **figures))

    def _stage(self, line: int, trial: _Gathered, told: Told, weed: str, cell: str) -> None:
        key = ("stage", f"{weed}\n{cell}")
        if key not in self.known:
            try:
                self.known[key] = cells_of.stage(self.base, weed, cell)
            except Unreadable as error:
                self.known[key] = error
        found = self.known[key]
        if isinstance(found, Unreadable):
            self._at_fault(line, "stage", str(found), trial.name)
        else:
            self._agrees(line, trial, told, f"stage {weed}", found, "treatment and weed", weed)

    def _agrees(self, line: int, trial: _Gathered, told: Told, column: str, value: Any, what: str, name: str) -> None:
        """Take what a row tells of its trial or treatment; it must be what the rows before it told."""
        if value is None:
            return
        before, at = told.setdefault(column, (value, line))
        if before != value:
            heading = column.split(maxsplit=1)[0]
            which = f"differs from line {at} within one {what} ({name}); write the same, or another name"
            self._at_fault(line, heading, which, trial.name)

    def done(self, design: Design | None) -> ReadTrials:
        """The trials that have no fault, and the faults."""
        trials: list[Trial] = []
        guessed: list[Guessed] = []
        for gathered in self.trials.values():
            found = self._trial(gathered, design, guessed)
            if found is not None:
                trials.append(found)
        used = set(self.at.values())
        counted = Counter(head for index, head in enumerate(self.header) if head and index not in used)
        return ReadTrials(
            tuple(trials),
            tuple(sorted(self.faults, key=lambda fault: fault.line)),
            tuple(counted),
            {name: self.header[index] for name, index in self.at.items()},
            tuple(guessed),
            tuple(self.notices),
        )

    def _trial(self, gathered: _Gathered, design: Design | None, guessed: list[Guessed]) -> Trial | None:
        treatments = []
        for name, told in gathered.treatments.items():
            payload, guess, faults, notices = treatment_of(self.base, self.names, name, told)
            treatments.append(payload)
            if guess is not None:
                guessed.append(Guessed(gathered.name, name, *guess))
            for line, column, message in faults:
                self._at_fault(line, column, message, gathered.name)
            for notice in notices:
                self._notice(f"{gathered.name}: {notice}")
        if name_key(gathered.name) in self.bad:
            return None
        told_of = {column: value for column, (value, _) in gathered.told.items()}
        if design is not None:
            told_of["design"] = design
        plots = tuple(gathered.plots)
        try:
            return validated(Trial, {"name": gathered.name, **told_of, "treatments": treatments, "plots": plots})
        except InputError as error:
            for fault in error.faults:
                self._at_fault(gathered.line, "", f"{_path(fault)}{fault.message}", gathered.name)
            return None


def _path(fault: FieldFault) -> str:
    return f"{fault.path}: " if fault.path else ""
