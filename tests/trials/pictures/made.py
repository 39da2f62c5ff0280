"""Analyses made by hand, for pictures: the figures are invented, only their shape counts."""

from __future__ import annotations

import math

from app.trials.output import (
    Analysis,
    CheckRole,
    Course,
    DoseCurve,
    Effective,
    LeastDifference,
    MeanRow,
    Separation,
    Synthesis,
    Transformation,
    TrialEffect,
)

LETTERS = "abcdefghijklmnopqrstuvwxyz"
SHORT = ("Fernhill Clear", "Sallow Mix", "Brook Gold", "Tarn Plus", "Millrace", "nontreated")
LONG = "quinclorac 0.75 lb/acre + 2,4-D 1.0 lb ae/acre + dicamba 0.125 lb ae/acre + methylated seed oil 1 % v/v"


def name(index: int, long: bool) -> str:
    """A treatment's name; long ones differ in their first figure."""
    return f"{index + 1}: {LONG}" if long else f"{SHORT[index % 5]} {index + 1}"


def row(index: int, count: int, long: bool = False, hsd: str | None = None) -> MeanRow:
    """The mean of one of so many treatments, falling from 96 %."""
    mean = 96 - 90 * index / max(count - 1, 1)
    letter = LETTERS[min(index, 20)] + (LETTERS[min(index + 1, 21)] if index % 2 else "")
    return MeanRow(
        treatment=name(index, long),
        n=4,
        mean=mean,
        raw_mean=mean,
        sd=5.0,
        se=3.0,
        low=mean - 7,
        high=mean + 7,
        letter_lsd=letter,
        letter_hsd=hsd if hsd is not None else letter,
        in_analysis=True,
    )


CHECK = MeanRow(
    treatment="nontreated", n=4, mean=0, raw_mean=0, sd=0, se=None, low=None, high=None, letter_lsd=None,
    letter_hsd=None, in_analysis=False,
)  # fmt: skip


def separation(count: int, long: bool = False, hsd: str | None = None, scale: str = "percent") -> Separation:
    """Means of so many treatments, separated."""
    return Separation.model_validate(
        {
            "scale": scale,
            "anova": (),
            "grand_mean": 50.0,
            "cv_pct": 12.0,
            "lsd": LeastDifference(value=9.1, alpha=0.05, exact=True),
            "hsd": LeastDifference(value=13.4, alpha=0.05, exact=True),
            "protected": True,
            "means": tuple(row(index, count, long, hsd) for index in range(count)),
            "comparisons": (),
        }
    )


def analysis(count: int, long: bool = False, hsd: str | None = None, arcsine: bool = False) -> Analysis:
    """An analysis of so many treatments and a check outside it."""
    percent = separation(count, long, hsd)
    return Analysis(
        trial="Larkmere North Tee",
        weed="white-clover",
        weed_name="white clover",
        days_after=28,
        stages=(),
        rated_by="control",
        design="rcbd",
        design_text="Randomised complete blocks: 4 replicates, each with every treatment.",
        replicates=4,
        alpha=0.05,
        headline="",
        anova=(),
        grand_mean=percent.grand_mean,
        cv_pct=percent.cv_pct,
        lsd=percent.lsd,
        hsd=percent.hsd,
        protected=True,
        means=(*percent.means, CHECK),
        comparisons=(),
        transformation=Transformation(
            chosen="arcsine" if arcsine else "percent", rule="", reason="", equal_spread_p=None,
            equal_spread_p_arcsine=None,
        ),
        transformed=separation(count, long, hsd, "arcsine") if arcsine else None,
        check=CheckRole(treatment="nontreated", in_error=False, text=""),
        missing=(),
        mixtures=(),
        dose_curves=(),
        injury=(),
        warnings=(),
    )  # fmt: skip


def course(count: int, long: bool = False) -> Course:
    """A course of so many treatments over five dates; several end at one height."""
    days = (7, 14, 28, 42, 56)
    points = {
        name(index, long): tuple(
            (day, max(0.0, (95 - 6 * (index // 2)) * (1 - math.exp(-day / (6 + 2 * index)))) - 0.3 * index)
            for day in days
        )
        for index in range(count)
    }
    points = {key: tuple((day, max(value, 0.0)) for day, value in line) for key, line in points.items()}
    return Course(
        trial="Larkmere North Tee",
        weed="white-clover",
        weed_name="white clover",
        first_day=7,
        last_day=56,
        points=points,
        separation=separation(count, long),
        text="",
    )


def dose(fitted: bool = True, wide: bool = False) -> DoseCurve:
    """A rising curve through four plots at each of six rates; `wide` has an ED90 past the rates."""
    rates = (0.0, 0.0625, 0.125, 0.25, 0.5, 1.0)
    top = 70.0 if wide else 96.0

    def control(rate: float) -> float:
        return top / (1 + math.exp(-1.8 * (math.log(rate) - math.log(0.2)))) if rate else 0.0

    plots = tuple(
        (rate, min(100.0, max(0.0, control(rate) + shift))) for rate in rates for shift in (-6.0, -1.0, 2.0, 5.0)
    )
    if not fitted:
        text = "No curve was fitted: control does not rise with the rate between the lowest and the highest."
        return DoseCurve(
            actives=("quinclorac",), adjuvant=None, unit="lb/acre", fitted=False, text=text, doses=rates, plots=plots
        )
    ed90 = 0.2 * 9 ** (1 / 1.8)
    return DoseCurve(
        actives=("quinclorac",),
        adjuvant="methylated seed oil",
        unit="lb ai/acre",
        fitted=True,
        text="",
        doses=rates,
        plots=plots,
        slope=-1.8,
        lower=0.0,
        upper=top,
        ed50=0.2,
        residual_se=4.0,
        df=20,
        effective=(
            Effective(share_pct=50, dose=0.2, low=0.17, high=0.235, beyond=False, text=""),
            Effective(
                share_pct=90, dose=2.1 if wide else ed90, low=0.52, high=9.0 if wide else 0.9, beyond=wide, text=""
            ),
        ),
        curve=tuple((0.05 * 1.04**step, control(0.05 * 1.04**step)) for step in range(80)),
    )


def synthesis(count: int, long: bool = False, difference: bool = True) -> Synthesis:
    """So many trials of one difference."""
    effects = tuple(
        TrialEffect(
            trial=f"Larkmere {index + 1}" + (f" {LONG}" if long else ""),
            place="Brook Farm fairway, hole 4",
            days_after=28 if index % 2 else 42,
            estimate=12 + 9 * math.sin(index * 2.1),
            se=3 + index % 3,
            low=12 + 9 * math.sin(index * 2.1) - 2 * (3 + index % 3),
            high=12 + 9 * math.sin(index * 2.1) + 2 * (3 + index % 3),
            weight_pct=100 / count * (1.4 if index % 2 else 0.6) if count > 1 else 100,
        )
        for index in range(count)
    )
    return Synthesis(
        question="Fernhill Clear against Sallow Mix",
        weed="white-clover",
        weed_name="white clover",
        difference=difference,
        effects=effects,
        alpha=0.05,
        estimate=12.4,
        se=2.1,
        low=7.6,
        high=17.2,
        fixed=12.0,
        q=14.2,
        q_df=count - 1,
        q_p=0.077,
        i2_pct=43.6,
        tau2=18.3,
        expect_low=-1.2 if count > 2 else None,
        expect_high=26.0 if count > 2 else None,
        text="",
        warnings=(),
    )
