"""What to say where an account or a crew is asked for that no unit has."""

from __future__ import annotations

from collections.abc import Iterable

from fleetaudit.language import say

#: how many names are told that are like the one asked for, and how alike they have to be
NAMES_LIKE, CLOSE = 3, 0.75


def nobody(where: str, account: str, crew: str, accounts: Iterable[str], crews: Iterable[str]) -> str:
    """Why no unit is left: a name that nobody has, with those like it, or two that no unit has together."""
    texts = (
        say('{where}: no unit has the account "{wanted}".', where=where, wanted=account),
        say('{where}: no unit has the crew "{wanted}".', where=where, wanted=crew),
    )
    for wanted, there, said in ((account, accounts, texts[0]), (crew, crews, texts[1])):
        names = {name.casefold(): name for name in there if name}
        if wanted and wanted.casefold() not in names:
            near = " / ".join(f'"{names[name]}"' for name in _like(wanted, list(names)))
            return f"{said} {say('Did you mean {names}?', names=near)}" if near else said
    return say(
        '{where}: no unit of the account "{account}" was set up by the crew "{crew}".',
        where=where,
        account=account,
        crew=crew,
    )


def _like(wanted: str, folded: list[str]) -> list[str]:
    """Names that hold what was asked for, else those spelled like it."""
    from difflib import get_close_matches  # noqa: PLC0415 - only on the way to a complaint

    asked = wanted.casefold().strip()
    holding = sorted(name for name in folded if asked and asked in name)
    return (holding or get_close_matches(asked, folded, NAMES_LIKE, CLOSE))[:NAMES_LIKE]
