"""The demo trials: what was true of them, and how a rater would have seen it. Everything here is invented.

Run as ``python -m demo_data.trial_simulator`` to write the files of `trials/` again. What is true of a
treatment is stated below as plain data; blocks, plots and the rater's eye are drawn around it.

Notes
-----
On the logit scale a rating is normal around the truth: truth + block + plot + the eye's error of that day.
Blocks sum to zero, so that the mean over blocks stays near the truth; the error of a plot stays with it from
date to date. The rating is brought back to percent and rounded as raters do (`as_rated`).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
from scipy.special import expit, logit

FOLDER = Path(__file__).resolve().parent / "trials"
CHECK = "nontreated"
HEADER = (
    "trial,weed,days_after,treatment,actives,rate,adjuvant,stage,turf,rep,"
    "control_pct,injury_pct,cover_pct,cover_before_pct,place,applied"
)
Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Treated:
    """A treatment and what is true of it.

    Attributes
    ----------
    parts : tuple of (str, str)
        Actives with their rates.
    truth : dict of str to tuple of float
        True control [%] at each rating date, by weed.
    injury : tuple of float
        True injury of the turf [%] at each rating date; empty for none.
    stage : str
        Stage of the weed where it differs between treatments.
    """

    name: str
    parts: tuple[tuple[str, str], ...]
    adjuvant: str
    truth: dict[str, tuple[float, ...]]
    injury: tuple[float, ...] = ()
    stage: str = ""


@dataclass(frozen=True)
class Cover:
    """A weed rated by its cover.

    Attributes
    ----------
    before : float
        True cover before the application [%].
    left : tuple of float
        Cover that the check keeps at each rating date, as a share of its cover before.
    """

    before: float
    left: tuple[float, ...]


@dataclass(frozen=True)
class Trial:
    """A trial as it was laid out, with the spread of what is drawn.

    Attributes
    ----------
    stages : dict of str to str
        Stage of each weed at the application; empty text where it differs between treatments.
    randomised : bool
        Completely randomised: no blocks, and every plot has a number of its own.
    block_sd, plot_sd, eye_sd : float
        Standard deviations of blocks, plots and single ratings [log-odds].
    lost : tuple of (str, int, int)
        Treatment, replicate and days after of plots that could not be rated.
    """

    file: str
    name: str
    seed: int
    place: str
    applied: str
    turf: str
    stages: dict[str, str]
    dates: tuple[int, ...]
    treatments: tuple[Treated, ...]
    replicates: int = 4
    randomised: bool = False
    cover: Cover | None = None
    block_sd: float = 0.25
    plot_sd: float = 0.25
    eye_sd: float = 0.12
    lost: tuple[tuple[str, int, int], ...] = ()


# What is true of the trials. Basis: invented; nobody measured any of it. Figures lie within the bands that the
# knowledge base expects, but for quinclorac with seed oil on crabgrass of one to three tillers: it is made to do
# far better than expected, so that a trial can be seen to move the advice.

CRABGRASS, NUTSEDGE, IVY, VIOLET = "smooth-crabgrass", "yellow-nutsedge", "ground-ivy", "wild-violet"
DANDELION, CLOVER = "dandelion", "white-clover"
QUINCLORAC, AMINE, TRICLOPYR = ("quinclorac", "0.75 lb ai/acre"), ("2-4-d", "1.0 lb ae/acre"), "triclopyr"
HALF, FULL = (TRICLOPYR, "0.5 lb ae/acre"), (TRICLOPYR, "1.0 lb ae/acre")
SULFENTRAZONE = ("sulfentrazone", "0.25 lb ai/acre")


def on_crabgrass(words: str, stage: str, oil: bool, *truth: float) -> Treated:
    """Quinclorac at one stage of crabgrass, with or without seed oil."""
    name = f"quinclorac, {words}, MSO" if oil else f"quinclorac, {words}"
    injury = (2.0, 1.0, 0.0) if oil else (1.0, 0.0, 0.0)
    return Treated(name, (QUINCLORAC,), "mso" if oil else "none", {CRABGRASS: truth}, injury, stage)


def on_two(
    name: str, *parts: tuple[str, str], dandelion: tuple[float, ...], clover: tuple[float, ...], injury: float = 0.0
) -> Treated:
    """A treatment that was rated on dandelion and on clover, its injury gone by the second date."""
    return Treated(name, parts, "nis", {DANDELION: dandelion, CLOVER: clover}, (injury, 0.0))


def at_rate(pounds: str) -> Treated:
    """Triclopyr at one rate: control follows a log-logistic curve, with regrowth between the dates."""
    curves = ((96.0, 1.6, 0.35), (92.0, 1.6, 0.45))  # upper limit [%], slope, ED50 [lb ae/acre] at each date
    truth = tuple(upper / (1 + (ed50 / float(pounds)) ** slope) for upper, slope, ed50 in curves)
    return Treated(f"triclopyr, {pounds} lb ae/acre", ((TRICLOPYR, f"{pounds} lb ae/acre"),), "nis", {VIOLET: truth})


TRIALS = (
    # Strips sown on three dates, so that one day of spraying met three stages.
    Trial(
        file="crabgrass-stage.csv",
        name="Larkmere crabgrass stage 2026",
        seed=20260706,
        place="Tarnbeck",
        applied="2026-07-06",
        turf="kentucky-bluegrass",
        stages={CRABGRASS: ""},
        dates=(14, 28, 42),
        treatments=(
            on_crabgrass("1-3 leaves", "1-3-leaf", False, 72, 83, 81),
            on_crabgrass("1-3 leaves", "1-3-leaf", True, 83, 91, 90),
            on_crabgrass("1-3 tillers", "1-3-tiller", False, 36, 50, 47),
            on_crabgrass("1-3 tillers", "1-3-tiller", True, 80, 95, 95),
            on_crabgrass("multi-tiller", "multi-tiller", False, 54, 68, 65),
            on_crabgrass("multi-tiller", "multi-tiller", True, 69, 81, 79),
        ),
    ),
    Trial(
        file="yellow-nutsedge.csv",
        name="Larkmere yellow nutsedge 2026",
        seed=20260615,
        place="Cobmarsh",
        applied="2026-06-15",
        turf="kentucky-bluegrass",
        stages={NUTSEDGE: "5-8-leaf"},
        dates=(14, 28, 42),
        treatments=(
            Treated("sulfentrazone", (SULFENTRAZONE,), "none", {NUTSEDGE: (88, 88, 84)}, (4, 2, 0)),
            Treated(
                "halosulfuron-methyl + NIS",
                (("halosulfuron-methyl", "0.062 lb ai/acre"),),
                "nis",
                {NUTSEDGE: (55, 78, 80)},
                (2, 2, 0),
            ),
            Treated("bentazon + COC", (("bentazon", "1.0 lb ai/acre"),), "coc", {NUTSEDGE: (80, 68, 55)}, (2, 0, 0)),
            Treated("sulfentrazone + triclopyr", (SULFENTRAZONE, HALF), "none", {NUTSEDGE: (91, 90, 87)}, (6, 3, 1)),
        ),
        # Water stood on this plot before the last rating.
        lost=(("halosulfuron-methyl + NIS", 3, 42),),
    ),
    # The singles stand at the rates of the mixtures, so that Colby's expectation can be had.
    Trial(
        file="dandelion-clover.csv",
        name="Larkmere dandelion clover 2026",
        seed=20260908,
        place="Pellmere",
        applied="2026-09-08",
        turf="tall-fescue",
        stages={DANDELION: "vegetative", CLOVER: "vegetative"},
        dates=(28, 42),
        treatments=(
            on_two("2,4-D", AMINE, dandelion=(88, 87), clover=(30, 27)),
            on_two("triclopyr", HALF, dandelion=(60, 56), clover=(83, 80)),
            on_two("quinclorac", QUINCLORAC, dandelion=(42, 38), clover=(87, 86), injury=2),
            on_two("2,4-D + quinclorac", AMINE, QUINCLORAC, dandelion=(91, 90), clover=(90, 89), injury=2),
            on_two("2,4-D + triclopyr", AMINE, HALF, dandelion=(95, 93), clover=(87, 84), injury=1),
            on_two(
                "2,4-D + triclopyr + quinclorac",
                AMINE,
                HALF,
                QUINCLORAC,
                dandelion=(96, 95),
                clover=(97, 96),
                injury=3,
            ),
        ),
    ),
    Trial(
        file="ground-ivy.csv",
        name="Larkmere ground ivy 2026",
        seed=20260921,
        place="Wrenhollow",
        applied="2026-09-21",
        turf="perennial-ryegrass",
        stages={IVY: "vegetative"},
        dates=(28, 56),
        treatments=(
            Treated("triclopyr", (FULL,), "nis", {IVY: (84, 82)}, (1, 0)),
            Treated("2,4-D", (AMINE,), "nis", {IVY: (58, 52)}),
            Treated("fluroxypyr", (("fluroxypyr", "0.25 lb ae/acre"),), "nis", {IVY: (72, 67)}),
            Treated("2,4-D + triclopyr", (AMINE, FULL), "nis", {IVY: (91, 89)}, (2, 0)),
        ),
        cover=Cover(before=45, left=(0.98, 0.86)),
        block_sd=0.3,
        plot_sd=0.15,
        eye_sd=0.1,
    ),
    # At 7 days the leaves twist and hardly anything is dead: early ratings are low and rise to four weeks.
    Trial(
        file="wild-violet.csv",
        name="Larkmere wild violet 2026",
        seed=20260512,
        place="Linnetby",
        applied="2026-05-12",
        turf="tall-fescue",
        stages={VIOLET: "flowering"},
        dates=(7, 14, 21, 28),
        treatments=(
            Treated("triclopyr", (FULL,), "nis", {VIOLET: (30, 50, 68, 79)}, (1, 1, 0, 0)),
            Treated("quinclorac", (QUINCLORAC,), "nis", {VIOLET: (8, 18, 27, 34)}, (1, 3, 2, 0)),
            Treated("triclopyr + quinclorac", (FULL, QUINCLORAC), "nis", {VIOLET: (33, 53, 71, 82)}, (2, 4, 2, 1)),
            Treated("2,4-D", (AMINE,), "nis", {VIOLET: (8, 13, 16, 17)}),
        ),
        replicates=3,
    ),
    Trial(
        file="rate-series.csv",
        name="Larkmere violet rates 2026",
        seed=20260915,
        place="Ouzelby",
        applied="2026-09-15",
        turf="tall-fescue",
        stages={VIOLET: "vegetative"},
        dates=(28, 56),
        treatments=tuple(at_rate(pounds) for pounds in ("0.0625", "0.125", "0.25", "0.5", "1.0", "2.0")),
        randomised=True,
    ),
)


def as_rated(percent: float) -> int:
    """The figure a rater writes down: steps of five, and single percents near nothing and near all.

    >>> [as_rated(percent) for percent in (3.4, 42.4, 42.6, 96.7)]
    [3, 40, 45, 97]
    """
    step = 5 if 10 <= percent <= 90 else 1
    return int(np.clip(step * np.floor(percent / step + 0.5), 0, 100))


def seen(share: float, error: float) -> int:
    """What is written down where a share is true and the eye and the plot are off by an error [log-odds]."""
    return as_rated(100 * float(expit(logit(share) + error))) if share > 0 else 0


def blocks(trial: Trial, chance: np.random.Generator) -> Array:
    """Block effects [log-odds], one a replicate, which sum to zero; none where there are no blocks."""
    drawn = chance.normal(0, trial.block_sd, trial.replicates)
    centred: Array = np.zeros(trial.replicates) if trial.randomised else drawn - drawn.mean()
    return centred


def labels(trial: Trial, chance: np.random.Generator) -> npt.NDArray[np.int64]:
    """Label of each plot, treatments by replicates: its block, or a number of its own over the whole trial."""
    shape = (len(trial.treatments) + 1, trial.replicates)
    if trial.randomised:
        return chance.permutation(np.arange(1, shape[0] * shape[1] + 1)).reshape(shape)
    return np.tile(np.arange(1, trial.replicates + 1), (shape[0], 1))


def rows(trial: Trial) -> Iterator[dict[str, object]]:
    """The rows of a trial: weed by weed, date by date, and plot by plot."""
    chance = np.random.default_rng(trial.seed)
    check = Treated(CHECK, (), "none", {weed: (0.0,) * len(trial.dates) for weed in trial.stages})
    treatments = (*trial.treatments, check)
    label = labels(trial, chance)
    order = sorted(np.ndindex(label.shape), key=lambda cell: (label[cell], cell))
    discolored = chance.normal(0, 0.4, label.shape)
    for weed, stage in trial.stages.items():
        plots = blocks(trial, chance) + chance.normal(0, trial.plot_sd, label.shape)
        stand = blocks(trial, chance) + chance.normal(0, trial.plot_sd, label.shape)
        for number, days in enumerate(trial.dates):
            eye = chance.normal(0, trial.eye_sd, label.shape)
            for cell in order:
                treated, rep = treatments[cell[0]], int(label[cell])
                row: dict[str, object] = {
                    "trial": trial.name,
                    "weed": weed,
                    "days_after": days,
                    "treatment": treated.name,
                    "actives": " + ".join(active for active, _ in treated.parts),
                    "rate": " + ".join(rate for _, rate in treated.parts),
                    "adjuvant": treated.adjuvant,
                    "stage": treated.stage or stage,
                    "turf": trial.turf,
                    "rep": rep,
                    "place": trial.place,
                    "applied": trial.applied,
                }
                control, error = treated.truth[weed][number] / 100, float(plots[cell] + eye[cell])
                injury = treated.injury[number] / 100 if treated.injury else 0.0
                if (treated.name, rep, days) not in trial.lost:
                    row["injury_pct"] = seen(injury, float(discolored[cell]))
                    if trial.cover is None:
                        row["control_pct"] = seen(control, error)
                if trial.cover is not None:
                    # Plots differ in their stand before the application, and keep that difference.
                    before = float(expit(logit(trial.cover.before / 100) + stand[cell]))
                    row["cover_before_pct"] = as_rated(100 * before)
                    row["cover_pct"] = seen(before * trial.cover.left[number] * (1 - control), error)
                yield row


def files() -> dict[str, bytes]:
    """Every demo trial as the bytes of its file, by file name."""
    made = {}
    for trial in TRIALS:
        text = io.StringIO()
        writer = csv.DictWriter(text, HEADER.split(","), restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows(trial))
        made[trial.file] = text.getvalue().encode("utf-8")
    return made


def main() -> None:
    """Write the files again."""
    FOLDER.mkdir(exist_ok=True)
    for name, content in files().items():
        (FOLDER / name).write_bytes(content)


if __name__ == "__main__":
    main()
