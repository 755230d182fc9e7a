"""One example of each kind of ticket, from an invented plant with invented people; kept true by a test."""

from __future__ import annotations

from typing import Any, Final

EXAMPLES: Final[tuple[dict[str, Any], ...]] = (
    {
        "ticket": "M-000001", "kind": "open", "at": "2026-10-01T06:00", "by": "hale", "witness": "moss",
        "area": "VAULT",
        "lots": [
            {"lot": "BAR-0007", "mass": "998.42 g", "scale": "S1", "form": "bar", "method": "FIRE",
             "fineness": {"gold": "999.9‰", "silver": "0.1‰"}},
            {"lot": "CUST-0003", "mass": "412.60 g", "scale": "S1", "terms": "deposited", "party": "LARCH",
             "fineness": {"gold": "18K", "silver": "125‰"}, "basis": "measured"},
        ],
        "dust": {"gold": "4.0 g"},
        "parties": [{"party": "ELMREF", "terms": "settled", "metal": "gold", "fine": "120.5 g"}],
    },
    {
        "ticket": "R-000101", "kind": "receive", "at": "2026-10-05T08:10", "by": "hale", "witness": "moss",
        "party": "NORTHBANK", "terms": "leased", "to": "VAULT",
        "lots": [
            {"lot": "BAR-0008", "serial": "NB 44102", "mass": "401.120 ozt", "scale": "S3", "form": "bar",
             "fineness": {"gold": "995.8‰", "silver": "0"}, "declared_mass": "401.125 ozt",
             "declared_fineness": {"gold": "995.8‰", "silver": "0"}},
        ],
    },
    {
        "ticket": "M-000123", "kind": "move", "at": "2026-10-05T09:30", "by": "hale", "witness": "moss",
        "from": "VAULT", "to": "MELT",
        "lots": [
            {"lot": "BAR-0007", "mass": "998.41 g", "scale": "S1", "all": True, "received_mass": "998.40 g",
             "received_scale": "S2"},
        ],
    },
    {
        "ticket": "M-000140", "kind": "arrive", "at": "2026-10-06T15:00", "by": "vane", "of": "M-000131",
        "lots": [{"lot": "DRUM-04", "gross": "24.85 kg", "tare": "2.10 kg", "scale": "S4"},
                 {"lot": "DRUM-05", "mass": "0 g"}],
    },
    {
        "ticket": "W-000211", "kind": "work", "at": "2026-10-05T11:45", "by": "vane", "workers": ["ferro", "pike"],
        "shift": "A", "machine": "F2", "conditions": {"temperature": "1040 °C"}, "operation": "MELT12", "area": "MELT",
        "in": [
            {"lot": "BAR-0007", "mass": "998.40 g", "scale": "S2", "all": True},
            {"bin": "SCRAP12", "gross": "640.15 g", "container": "T14", "scale": "S2"},
        ],
        "out": [
            {"lot": "INGOT-0150", "mass": "1610.22 g", "scale": "S2", "form": "bar", "planned": "12K"},
            {"lot": "SLAG-0150", "mass": "21.30 g", "metallic": "9.5 g", "scale": "S2", "class": "SLAG",
             "fineness": {"gold": "30%", "silver": "8%"}, "basis": "estimated", "sd": "6%"},
        ],
    },
    {
        "ticket": "A-000031", "kind": "assay", "at": "2026-10-06T10:00", "by": "quill", "lot": "INGOT-0150",
        "method": "FIRE", "results": {"gold": [["499.8", "500.1"], ["499.6"]], "silver": [["62.0‰", "61.7‰"]]},
        "apply": "melt",
    },
    {
        "ticket": "S-000012", "kind": "sweep", "at": "2026-10-30T17:00", "by": "vane", "witness": "hale",
        "area": "MELT",
        "lots": [
            {"lot": "DRUM-06", "gross": "9.85 kg", "tare": "2.10 kg", "scale": "S4", "moisture": "8.0%",
             "seal": "77120", "form": "sweeps", "fineness": {"gold": "1.2%", "silver": "0.4%"},
             "basis": "estimated", "sd": "0.3%"},
        ],
        "cleaned_out": True,
    },
    {
        "ticket": "D-000077", "kind": "ship", "at": "2026-10-21T14:20", "by": "hale", "from": "VAULT", "party": "LARCH",
        "terms": "sold", "lots": [{"lot": "WIRE-0311", "mass": "2140.6 g", "scale": "S1", "billed": "1/20 12K"}],
    },
    {
        "ticket": "T-000009", "kind": "settle", "at": "2026-10-28T12:00", "by": "quill", "area": "AT-ELMREF",
        "party": "ELMREF",
        "lots": [
            {"lot": "DRUM-04", "received": "22.71 kg", "moisture": "7.6%", "terms": "T-2026",
             "agreed": {"gold": "268.4 g", "silver": "90.1 g"}, "payable": {"gold": "263.0 g", "silver": "85.0 g"},
             "assays": {"ours": {"gold": "12.8‰", "silver": "4.3‰"}, "theirs": {"gold": "12.7‰", "silver": "4.2‰"}}},
        ],
    },
    {
        "ticket": "P-000004", "kind": "transfer", "at": "2026-10-29T11:00", "by": "quill",
        "from": {"party": "ELMREF", "terms": "settled"}, "to": {"party": "NORTHBANK", "terms": "leased"},
        "metal": "gold", "fine": "263.0 g", "reference": "NB 2026/118",
        "reason": "out-turn delivered against the lease",
    },
    {
        "ticket": "C-000018", "kind": "count", "at": "2026-10-31T18:30", "by": "moss", "witness": "quill",
        "area": "MELT",
        "lots": [
            {"lot": "INGOT-0150", "mass": "1610.20 g", "scale": "S2"},
            {"bin": "SCRAP12", "gross": "310.02 g", "container": "T14", "scale": "S2"},
            {"lot": "DRUM-06", "seal": "77120"},
        ],
        "count": "OCT-MELT", "sheet": "1", "team": "blue", "ended": True,
    },
    {
        "ticket": "D-000080", "kind": "discard", "at": "2026-10-30T16:00", "by": "vane", "area": "WET",
        "lots": [{"lot": "EFFL-10", "mass": "118.0 kg", "scale": "S4", "all": True, "method": "ICP",
                  "content": {"gold": "0.41 g", "silver": "2.9 g"}}],
    },
    {
        "ticket": "V-000003", "kind": "writeoff", "at": "2026-11-03T10:00", "by": "quill", "witness": "moss",
        "area": "MELT", "metal": "gold", "mass": "3.15 g", "cause": "spill",
        "evidence": "furnace log of 12 October, lining assay A-000044",
        "reason": "crucible broke; what the lining gave back is booked",
    },
    {
        "ticket": "K-000501", "kind": "checkweigh", "at": "2026-10-05T06:05", "by": "hale", "scale": "S1",
        "standard": "500.0 g", "reading": "500.01 g",
    },
    {
        "ticket": "M-000125", "kind": "void", "at": "2026-10-05T10:00", "by": "hale", "numbers": ["M-000124"],
        "reason": "form torn in the printer",
    },
    {
        "ticket": "M-000126", "kind": "reverse", "at": "2026-10-05T10:05", "by": "hale", "of": "M-000123",
        "reason": "the wrong bar was scanned",
    },
)  # fmt: skip
