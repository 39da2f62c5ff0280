"""Commands that rank, explain and answer."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Collection, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from app.cli.shared import add_command, print_answer, read_document, whole_number
from app.cli.store import data_option, store_of
from app.engine.errors import FieldFault, InputError

if TYPE_CHECKING:
    from app.engine.house import Observed
    from app.engine.product import Product


def situation_commands(commands: Any) -> None:
    rank = add_command(
        commands,
        "recommend",
        "rank programs for a situation",
        "swardwright recommend demo_data/wild-violet-summer.json",
        "swardwright recommend demo_data/crabgrass-tillered.json --json --top 10",
        "swardwright recommend - < demo_data/warm-season-nutsedge.json",
        "",
        "Required: date, zone, site_use, turf, targets. An absent fact is unknown.",
    )
    rank.add_argument("situation", metavar="SITUATION.json", help="a situation; - reads standard input")
    rank.add_argument("--top", type=whole_number, default=None, metavar="N", help="show at most N programs (1 to 50)")
    rank.set_defaults(run=run_recommend)
    why = add_command(
        commands,
        "why-not",
        "say what stands against an active or mixture",
        "swardwright why-not demo_data/wild-violet-summer.json --active dicamba",
        "swardwright why-not demo_data/wild-violet-summer.json --active triclopyr --active 2-4-d",
    )
    why.add_argument("situation", metavar="SITUATION.json", help="a situation; - reads standard input")
    why.add_argument("--active", action="append", required=True, metavar="ID", help="an active; repeat for a mixture")
    why.set_defaults(run=run_why_not)
    expected = add_command(
        commands,
        "expect",
        "expected control and injury of a stated program",
        "swardwright expect demo_data/wild-violet-program.json",
    )
    expected.add_argument(
        "program", metavar="PROGRAM.json", help='{"situation", "program", "days_after"}; - reads standard input'
    )
    expected.set_defaults(run=run_expect)
    for command in (rank, why, expected):
        data_option(command)
    for command in (rank, why, expected):
        command.add_argument("--json", action="store_true", help="print one JSON document")


def identify_command(commands: Any) -> None:
    """Adds `identify`."""
    which = add_command(
        commands,
        "identify",
        "which weed is it, from what can be seen",
        "swardwright identify --seen leaf-form=heart --seen flower-colour=purple",
        "swardwright identify --seen habit=mat --month 7 --zone transition --json",
        "",
        "Without --seen it lists the traits and their answers.",
    )
    which.add_argument("--seen", action="append", default=[], metavar="TRAIT=ANSWER", help="what is seen; repeat")
    which.add_argument("--month", type=whole_number, metavar="1-12", help="month in which it is seen")
    which.add_argument("--zone", metavar="ID", help="zone (default with --month: cool-humid)")
    which.add_argument("--json", action="store_true", help="print one JSON document")
    which.set_defaults(run=run_identify)


def answer_command(commands: Any) -> None:
    quick = add_command(
        commands,
        "answer",
        "the quick answer for a weed, by whatever name",
        'swardwright answer "wild violet" --turf tall-fescue --month 5',
        'swardwright answer "creeping charlie" --zone transition --json',
    )
    quick.add_argument("weed", help="what it is called, for example 'creeping charlie'")
    quick.add_argument("--turf", metavar="ID", help="turf (default: the usual one of the zone)")
    quick.add_argument("--month", type=whole_number, metavar="1-12", help="month (default: this month)")
    quick.add_argument("--zone", metavar="ID", help="zone (default: cool-humid)")
    quick.add_argument("--stage", metavar="ID", help="growth stage (default: by the calendar)")
    data_option(quick)
    quick.add_argument("--json", action="store_true", help="print one JSON document")
    quick.set_defaults(run=run_answer)


def shelf_of(arguments: argparse.Namespace) -> Callable[[], Sequence[Product]]:
    """The shelf, opened only where a situation asks for it."""

    def shelf() -> Sequence[Product]:
        from app.services.shelf import shelf_products

        with store_of(arguments) as store:
            return shelf_products(store)

    return shelf


def house_of(arguments: argparse.Namespace) -> Callable[[Collection[str]], Sequence[Observed]] | None:
    """What the house's trials saw; None where nothing was ever kept, so that a question needs no database."""
    from app.store.place import something_kept

    if not something_kept(arguments.data):
        return None

    def house(weeds: Collection[str]) -> Sequence[Observed]:
        from app.services.house import evidence_of

        with store_of(arguments) as store:
            return evidence_of(store, weeds)

    return house


def run_recommend(arguments: argparse.Namespace) -> int:
    """Rank programs for a situation."""
    from app.services.advice import recommend
    from app.text import recommendation_text

    payload = read_document(arguments.situation)
    if arguments.top is not None and isinstance(payload, dict):
        options = payload.get("options", {})
        # Options of another shape are left as they are, to be refused by name.
        if isinstance(options, dict):
            payload = {**payload, "options": {**options, "top": arguments.top}}
    return print_answer(
        recommend(payload, shelf_of(arguments), house_of(arguments)), recommendation_text, arguments.json
    )


def run_why_not(arguments: argparse.Namespace) -> int:
    """Say what stands against an active or mixture."""
    from app.services.advice import why_not
    from app.text import why_not_text

    payload = {"situation": read_document(arguments.situation), "actives": arguments.active}
    return print_answer(why_not(payload, shelf_of(arguments), house_of(arguments)), why_not_text, arguments.json)


def run_expect(arguments: argparse.Namespace) -> int:
    """Expected control and injury of a stated program."""
    from app.services.advice import expect
    from app.text import expectation_text

    return print_answer(expect(read_document(arguments.program), house_of(arguments)), expectation_text, arguments.json)


def run_identify(arguments: argparse.Namespace) -> int:
    """Which weed is it."""
    from app.services.advice import DEFAULT_ZONE, day_in, identify
    from app.text import identification_text

    traits = {}
    for told in arguments.seen:
        name, is_pair, value = told.partition("=")
        if not is_pair or name in traits:
            what = "is told twice" if name in traits else "must be TRAIT=ANSWER, for example leaf-form=heart"
            raise InputError([FieldFault("seen", f"'{told}' {what}")])
        traits[name] = value
    payload: dict[str, Any] = {"traits": traits}
    if arguments.month is not None or arguments.zone is not None:
        today = date.today()
        day = day_in(arguments.month, today) if arguments.month is not None else today
        payload |= {"zone": arguments.zone or DEFAULT_ZONE, "date": day.isoformat()}
    return print_answer(identify(payload), identification_text, arguments.json)


def run_answer(arguments: argparse.Namespace) -> int:
    """The quick answer for a weed."""
    from app.services.advice import answer
    from app.text import quick_answer_text

    if not arguments.weed.isprintable():
        raise InputError([FieldFault("weed", "holds a sign that cannot be printed; write the name in plain letters")])
    found = answer(
        arguments.weed,
        turf=arguments.turf,
        month=arguments.month,
        zone=arguments.zone,
        stage=arguments.stage,
        site_use=None,
        today=date.today(),
        house=house_of(arguments),
    )
    return print_answer(found, quick_answer_text, arguments.json)
