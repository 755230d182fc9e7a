"""The reference of the set-up, written from the models themselves: ``python -m ledger.plant.reference``."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import time
from typing import Any, Final, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from ledger.plant.assumed import ESTIMATE_SD, MOISTURE_SD, NOMINAL_FINENESS_SD, exact, per_cent, per_mille
from ledger.plant.forms import Form
from ledger.plant.measuring import WORTH_BY_KIND
from ledger.plant.reading import TABLES
from ledger.plant.site import Plant

_HEAD: Final = """\
# The set-up: plant.toml

Written from the models by `python -m ledger.plant.reference`; a test keeps it so. A book is opened with one set-up
(`lemel new BOOK --plant plant.toml`) and changed by dated changes (`lemel setup change FILE`).

Unknown keys are refused, and so are codes entered twice, references to a code that is not there, and metals that the
plant does not book. Every fault is listed at once, with its line, its key and the mend. Entries are counted from 1:
`area[2].tolerance` is the tolerance of the second `[[area]]`. Values are kept exactly as they are written. What is left
out and therefore assumed is printed as assumed; none of those values has a published source. A loss rate is never
assumed: there is no published norm.
"""

_TAIL: Final = """\
## What follows from several tables

- **Rates.** For a material, what a `[[rate]]` for its class states goes before one for its alloy, and that before the
  operation's own: key by key, and metal by metal. A class of an alloy is also of that alloy.
- **Days.** The plant's day begins when its clock first shows `cut_off`. Where the clock is put back over that very
  hour, the repeated minutes belong to the day already begun.
- **Periods.** Without a `[[period]]`: calendar months, `2026-10`. With some, the days before the first one still belong
  to calendar months, and a day after the last one to no period at all: it is refused until one is listed.
- **Clad stock.** Fineness is the mark's share of the weight × the fineness of the `layer` alloy, for each metal.
  Without a layer the mark alone speaks, of gold (of the first metal, where no gold is booked), and other metals are
  taken as none. The layer's alloy and the mark may differ by half a karat at most.

## A change of the set-up

A change file has the same tables, and above the first of them:

| key | meaning | written as | left out |
|---|---|---|---|
| `from` | when it takes effect | `"2026-11-01T00:00"`, plant time; or a date, from the start of that day | required |
| `by` | code of the person who decided it, who may `set` | text | required |
| `reason` | why | text | required |

An entry with a known code (a rate with a known operation and material, a fixing with a known metal and date) takes the
keys given; a table by metal takes the metals given; `may` is given anew as a whole. A new code is a new entry. Nothing
is removed, and `metals`, `timezone` and `cut_off` of the plant cannot change.
"""


def setup_reference() -> str:
    """Return docs/reference/setup.md: each table of the set-up, with key, meaning, form, unit and default."""
    plant = table("[plant]", Plant)
    tables = [table(f"[[{name}]]", model) for name, model in TABLES.items()]
    return "\n".join([_HEAD, plant, *tables, _assumptions(), _TAIL])


def _assumptions() -> str:
    rows = [f"| `{kind}` | {' | '.join(map(per_mille, worth))} |" for kind, worth in WORTH_BY_KIND.items()]
    return f"""\
## What is assumed

Common practice, no source: a plant does better to state its own. The values in force are listed by `lemel setup show`.

| method | repeatability | sampling | bias |
|---|---|---|---|
{chr(10).join(rows)}

A method without a kind is taken as `touch`. A nominal fineness carries a standard deviation of
{per_mille(NOMINAL_FINENESS_SD)}, an estimate one of {per_cent(ESTIMATE_SD)} of its content, a moisture one of
{exact(MOISTURE_SD * 100)} percentage points.
"""


def table(title: str, model: type[BaseModel]) -> str:
    """Return a section on one table: its keys with meaning, form, unit and what is taken where they are left out."""
    head = f"## {title}\n\n{model.__doc__ or ''}".split("\n\n    ")[0].replace("``", "`")
    rows = [_row(info.alias or name, info) for name, info in _in_order(model)]
    return "\n".join([head, "", "| key | meaning | written as | unit | left out |", "|---|---|---|---|---|", *rows, ""])


def _in_order(model: type[BaseModel]) -> Iterator[tuple[str, FieldInfo]]:
    """Yield the fields of a table, its own before those it shares with another."""
    own = [name for name in model.model_fields if name in model.__annotations__]
    for name in [*own, *(name for name in model.model_fields if name not in own)]:
        yield name, model.model_fields[name]


def _row(key: str, info: FieldInfo) -> str:
    extra: dict[str, Any] = info.json_schema_extra if isinstance(info.json_schema_extra, dict) else {}
    unit = extra.get("unit", "")
    left_out = extra.get("default") or _default(info)
    return f"| `{key}` | {info.description} | {_written(info)} | {unit} | {left_out} |"


def _default(info: FieldInfo) -> str:
    if info.is_required():
        return "required"
    match info.default:
        case None:
            return "not stated"
        case bool():
            return f"`{str(info.default).lower()}`"
        case time():
            return f"`{info.default:%H:%M}`"
    return f"`{info.default}`"


def _written(info: FieldInfo) -> str:
    form = next((part for part in info.metadata if isinstance(part, Form)), None)
    return form.written if form else _form_of(info.annotation)


def _form_of(annotation: Any) -> str:
    if annotation is bool:
        return "`true` or `false`"
    if get_origin(annotation) is Literal:
        return ", ".join(f"`{_quoted(value)}`" for value in get_args(annotation))
    if get_origin(annotation) is dict:
        return "by metal or `gross`, `{gold = …}`: " + _form_of(get_args(annotation)[1])
    for part in getattr(annotation, "__metadata__", ()):
        if isinstance(part, Form):
            return part.written
    return next(form for part in get_args(annotation) if (form := _form_of(part)))


def _quoted(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value)


if __name__ == "__main__":
    print(setup_reference(), end="")
