"""Command lines drawn from the program's own tree of commands: each argument and option, sound or not.

What an option takes is told by its word in the help (AREA, MASS, TIME …); half of the time it gets something of that
sort from the sample month, else something of another sort, or something that no one means.
"""

from __future__ import annotations

from random import Random
from typing import Any, Final

import typer

from ledger.book.tickets import KINDS
from ledger.faces.cli.commands import app_of
from tests.studies.damage import TEXTS

_PATHS: Final = (
    "out/x.jsonl", "out/x.csv", "out/x.xlsx", "out/y.lemel", "out/pack", "../x.csv", "../../y.lemel", "a/b.csv", "",
    ".", "..", "x.lemel", "/dev/full", "/dev/null", "fifo.jsonl", "fifo.toml", "zero.jsonl", "zero.toml", "link.lemel",
    "month.lemel", "sealed.lemel", "folder", "folder/x.csv", "month.lemel/x", "n" * 300 + ".csv", "\u202ecsv.x",
    "tickets.jsonl", "tickets.csv", "plant.toml", "change.toml", "out-turn.toml", "sweeps.toml", "copy.jsonl", "-",
    "loop.jsonl", "dangling.csv",
)  # fmt: skip
_TIMES: Final = (
    "2026-10-05T14:30", "2026-10-31", "2026-11-01T01:30", "2026-10", "1900-01-01", "2199-12-31", "2026-03-08T02:30",
    "0001-01-01", "9999-12-31", "2026-10-05T14:30+99:00", "2026-10-05T14:30-04:00",
)  # fmt: skip
_LINES: Final = ("CL-0905 10.00 g", "new 10.00 g all", "SC-0906", "10 g", "new COIL- 1.00 g form=coil", "all all all")
_NUMBERS: Final = ("0", "1", "-1", "12", "9" * 30, "9" * 5000, "1e9", "0.5", "½")
#: The word in the help → what is sound, or nearly.
WORDS: Final[dict[str, tuple[str, ...]]] = {
    "PERIOD": ("2026-10", "2026-11", "2026-09", "1900-01", "2199-12", "2026-13", "0000-00"),
    "AREA": ("VAULT", "MELT", "ROLL", "FINISH", "gross"),
    "LOT": ("CL-0905", "AN-1012", "GB-1001", "SC-0906", "new", "new COIL-"),
    "TICKET": ("HC-0001", "HC-0007", "HC-0040", "HC-0999", "2026-10"),
    "TIME": _TIMES,
    "UNIT": ("g", "kg", "ozt", "dwt", "lb", "grain", "oz", "gr", "t", "ng"),
    "METAL": ("gold", "silver", "gross", "copper"),
    "MASS": ("10.00 g", "0.001 g", "1000 t", "3 ozt", "0 g", "-1.00 g", "+0.5 g", "all"),
    "PERSON": ("RF", "JD", "MQ", "HB", "TH", "OV"),
    "PARTY": ("NBM", "own", "REF", "SUP"),
    "TERMS": ("bought", "deposited", "leased", "returned", "sold"),
    "OPERATION": ("ROLLING", "MELTING", "BONDING", "BUFFING"),
    "SCALE": ("S-FLOOR", "S-VAULT", "S-LAB"),
    "KIND": tuple(KINDS),
    "LINE": (*_LINES, "2026-10 3f9c11ab 88aa0f12 0123abcd 4567ef01 89abcdef-K"),
    "NAME=VALUE": ("form=coil", "witness=TH", "fineness.gold=12K", "conditions.temperature=1", "from=x", "=", "lot="),
    "AREA=TEXT": ("VAULT=looked into", "MELT=assayed", "=x", "VAULT="),
    "NUMBER=TEXT": ("HC-0041=spoiled", "HC-0041-HC-0045=lost", "=", "HC-1=x"),
    "TEXT": ("draught on the pan", "x" * 2001, "<script>alert(1)</script>", "=HYPERLINK(1)"),
    "N": _NUMBERS, "DAYS": _NUMBERS, "RANK": _NUMBERS, "NUMBER": _NUMBERS, "AMOUNT": (*_NUMBERS, "100 USD/ozt"),
    "SHARE": ("5%", "0.1%", "0%", "100%", "1‰", "1e-9%", "-5%", "33.333333333333333%"),
    "WHAT": ("lots", "tickets", "lot", "x"), "WAY": ("back", "forth", "both", "up", "down"),
    "WHEN": (*_TIMES, "2026-10"), "FROM": (*_TIMES, "2026-10", "1.00 mm", "#18"), "TO": (*_TIMES, "2026-10", "0.10 mm"),
    "MARK": ("1/20 12K", "1/10 14K", "1/0 12K", "1/999999 24K"), "ALLOY": ("12K", "14K", "585‰", "G12", "999.9‰"),
    "PART": ("12K", "BRASS", "12K@15.2", "14K 13.1 g/cm3"), "FACES": ("1", "2", "round", "3"),
    "LENGTH": ("1.00 mm", "0.01 mm", "0.000000001 mm", "1000000 m", "0 mm", "1 in", "#30", "1 ft"),
    "DENSITY": ("15.2", "15.2 g/cm3", "0", "1e9"), "HOW": ("roll", "draw", "tube"), "PRICE": ("100", "0", "1e9"),
    "WINDOW": ("gold=12K", "silver=0..20%", "x"), "FINENESS": ("12K", "585‰", "0", "1000‰"),
    "CODE": ("S-FLOOR", "FIRE", "RF", "x"), "SCALE|METHOD": ("S-FLOOR", "FIRE", "x"),
    "TICKET|LOT": ("HC-0030", "CL-0905"), "records|postings": ("records", "postings", "x"),
    "jsonl|csv": ("jsonl", "csv", "xml"), "DAY": _TIMES,
}  # fmt: skip
_OF_PATHS: Final = ("FILE", "PATH", "DIR", "BOOK", "TO")
#: Commands that take a second and more: drawn that much more rarely.
_SLOW: Final = {
    "pack": 60, "causes": 20, "unseen": 20, "patterns": 20, "trend": 4, "charge": 3, "verify": 3, "close": 3,
}  # fmt: skip
_ANY: Final = tuple(word for words in WORDS.values() for word in words)
_HOSTILE: Final = tuple(text for text in TEXTS if "\0" not in text)


def commands() -> list[tuple[tuple[str, ...], list[Any]]]:
    """Return every command with its parameters, often in the list where it is quick."""
    found: list[tuple[tuple[str, ...], list[Any]]] = []
    left = [((), typer.main.get_command(app_of()))]
    while left:
        path, command = left.pop()
        inner = getattr(command, "commands", None)
        if inner is not None:
            left += [((*path, name), one) for name, one in inner.items()]
        else:
            found += [(path, command.params)] * (60 // _SLOW.get(path[-1], 1))
    return found


def command_line(random: Random, known: list[tuple[tuple[str, ...], list[Any]]], book: str = "month.lemel") -> bytes:
    """Return arguments, parted by NUL: a command, what it needs, and some of what it may have."""
    path, parameters = random.choice(known)
    words = list(path)
    for parameter in parameters:
        option, flag = parameter.param_type_name == "option", getattr(parameter, "is_flag", False)
        if "--book" in parameter.opts:
            words += ["--book", book if random.random() < 0.95 else random.choice((*_PATHS, *_HOSTILE))]
        elif random.random() < (0.3 if option and not parameter.required else 0.97):
            for _ in range(random.choice((1, 1, 2)) if getattr(parameter, "multiple", False) else 1):
                words += [parameter.opts[0]] * option + [] if flag else [parameter.opts[0]] * option + [
                    _word(random, parameter)]  # fmt: skip
    if random.random() < 0.1:
        _disturb(random, words)
    return "\0".join(words).encode("utf-8", "surrogatepass")


def _word(random: Random, parameter: Any) -> str:
    sort = (parameter.metavar or "TEXT").strip("[].")
    choice = random.random()
    paths = sort in _OF_PATHS and parameter.name not in ("first", "last", "finish", "to_period")
    if choice < 0.6:
        return random.choice(_PATHS if paths else WORDS.get(sort, _ANY))
    return random.choice(_ANY if choice < 0.75 else _HOSTILE)


def _disturb(random: Random, words: list[str]) -> None:
    at = random.randrange(len(words))
    choice = random.random()
    if choice < 0.4:
        del words[at]
    elif choice < 0.7:
        words.insert(at, random.choice(("--", "-", "--json", "--x", "-h", "", *_HOSTILE)))
    else:
        to = random.randrange(len(words))
        words[at], words[to] = words[to], words[at]


#: Tickets at the bench that are sound as they stand, in a book of the sample month.
_SOUND: Final = (
    ("ticket", "move", "--by", "RF", "--from", "ROLL", "--to", "FINISH", "--lot", "AN-1012", "--mass", "100.00 g",
     "--rest", "--scale", "S-FLOOR", "--at", "2026-11-02T09:00"),
    ("ticket", "checkweigh", "--by", "MQ", "--scale", "S-FLOOR", "--set", "standard=1000.00 g", "--set",
     "reading=1000.01 g", "--at", "2026-11-02T09:00"),
    ("ticket", "void", "--by", "MQ", "--set", "numbers=HC-0050", "--reason", "torn", "--at", "2026-11-02T09:00"),
    ("ticket", "reverse", "--by", "MQ", "--set", "of=HC-0030", "--reason", "mis-read", "--at", "2026-11-02T09:00"),
    ("ticket", "work", "--by", "RF", "--area", "ROLL", "--operation", "ROLLING", "--in", "CL-0905 100.00 g", "--out",
     "new COIL- 99.98 g form=coil", "--scale", "S-FLOOR", "--at", "2026-11-02T09:00"),
    ("ticket", "--again", "HC-0030", "--mass", "99.98 g", "--reason", "draught on the pan"),
)  # fmt: skip
#: What is asked for at the bench.
_ASKED: Final = ("LOT", "MASS", "AREA", "PERSON", "LINE", "SCALE", "OPERATION", "NAME=VALUE", "TERMS", "TIME")


def _nearly_sound(random: Random) -> bytes:
    words = list(random.choice(_SOUND))
    for _ in range(random.randint(0, 2)):
        at = random.randrange(1, len(words))
        words[at] = random.choice(_HOSTILE if random.random() < 0.4 else _ANY)
    return "\0".join((*words, "--book", "month.lemel")).encode("utf-8", "surrogatepass")


def bench_line(random: Random, known: list[tuple[tuple[str, ...], list[Any]]]) -> bytes:
    """Return the arguments of a ticket at the bench and, after an empty one, what is then answered, line by line."""
    known = [one for one in known if one[0] == ("ticket",)]
    said = [""] * random.randint(0, 12) if random.random() < 0.5 else []
    for _ in range(random.randint(0, 25)):
        sort = random.choice(_ASKED)
        said.append("" if random.random() < 0.25 else random.choice(_HOSTILE if random.random() < 0.2 else WORDS[sort]))
    line = _nearly_sound(random) if random.random() < 0.7 else command_line(random, known)
    return line + b"\0\0" + "\n".join(said).encode("utf-8", "surrogatepass")
