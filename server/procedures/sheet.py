"""A kept check of the wiring as one page that prints on one sheet and needs nothing but itself: record to HTML. Pure.

What is in a record came from a file: it may lack anything, and everything in it is escaped.
"""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from html import escape
from typing import Any

from server.procedures.sheet_drawings import timing_svg, wires_svg

Record = Mapping[str, Any]

_FONTS = "'Source Sans 3','Segoe UI','Helvetica Neue','Noto Sans','Liberation Sans',Arial,sans-serif"
STYLE = (
    "@page{margin:10mm}*{box-sizing:border-box;margin:0}"
    "body{font:10.5pt/1.35 " + _FONTS + ";color:#14201e;background:#fff;"
    "max-width:190mm;margin:0 auto;padding:6mm 4mm}"
    "h1{font-size:19pt;line-height:1.1}h2{font-size:11pt;margin:3.5mm 0 1mm;border-top:1px solid #14201e}"
    "h2 .second{font-weight:400;font-size:9pt}"
    "p,li{margin-top:.6mm}ul,ol{list-style:none;padding:0}table{border-collapse:collapse;width:100%}"
    "th,td{text-align:left;vertical-align:baseline;padding:.5mm 3mm .5mm 0;border-top:1px solid #ccc;font-weight:400}"
    "b,th[scope=row]{font-weight:650}.second{color:#465350}"
    ".caution{border:1.5px solid #14201e;padding:1mm 2mm;margin-top:2mm;font-size:9pt}"
    "section,table,figure,.caution{break-inside:avoid}svg{display:block;width:100%;height:auto}"
    "text{font:12px " + _FONTS + ";fill:#14201e}text.v{fill:#075e9e}"
    "text.e{text-anchor:end}text.m{text-anchor:middle}text.b{font-weight:650}text.n{fill:#465350}"
    ".line{fill:none;stroke:#14201e;stroke-width:2}.volt{fill:none;stroke:#075e9e;stroke-width:1.5}"
    ".ghost{fill:none;stroke:#465350;stroke-width:1.5;stroke-dasharray:3 4}.faint{stroke:#c3ccc9;stroke-width:1}"
    ".box{fill:none;stroke:#14201e;stroke-width:1.5}"
    "dl{display:grid;grid-template-columns:1fr 1fr;gap:0 6mm}dl>div{display:flex;gap:2mm;border-top:1px solid #ccc}"
    "dt{min-width:20mm;color:#465350}dd{margin:0}.beside{display:flex;gap:0 6mm}.beside>*{flex:1}"
    ".beside>:first-child{flex:1.7}table,figcaption{font-size:9pt}figure svg{max-width:58mm;margin:0 auto}"
    ".rest{columns:2;column-gap:6mm;font-size:9pt;margin-top:3.5mm}.rest h2{font-size:10pt;margin:0 0 .6mm}"
    ".rest section{padding-bottom:3mm}.beside h2 .second{display:block}"
    "@media screen and (max-width:600px){dl{grid-template-columns:1fr}.beside{display:block}.rest{columns:1}"
    "h1,dd,td,figcaption,p,li{overflow-wrap:anywhere}table,figcaption,.rest{font-size:9pt}}"
    "@media print{body{padding:0;font-size:8pt}h1{font-size:16pt}h2{margin-top:2mm;font-size:9.5pt}"
    ".caution{font-size:7pt}table,figcaption,.rest{font-size:7.5pt}.rest h2{font-size:9pt;margin:0 0 .6mm}}"
)
# Kept on disk and sent on, the page has no answer's header around it: it says itself that nothing in it runs or loads.
POLICY = "default-src 'none'; style-src 'unsafe-inline'"
_SPEAKS = {"for": "for", "against": "against", "missing": "not seen"}


def sheet(record: Record) -> str:
    """The whole page."""
    far = _map(record.get("far"))
    title = f"Wiring of {_text(record, 'motor') or _text(record, 'rig') or 'a motor'}"
    parts = [
        f"<h1>{escape(_text(far, 'word') or title)}</h1>",
        f"<p>{escape(_text(far, 'below'))}</p>" if _text(far, "below") else "",
        _facts(record, title),
        _verdicts(record),
        f'<div class="beside">{_timing(record)}{_mends(record)}</div>',
        f'<div class="beside">{_steps(record)}<div>{_fits(record)}{_cautions(record)}</div></div>',
    ]
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<style>{STYLE}</style></head><body>{''.join(parts)}</body></html>"
    )


def summary(record: Record) -> dict[str, Any]:
    """What a list of kept checks tells of one."""
    far, check = _map(record.get("far")), _map(record.get("check"))
    steps = [each for each in _list(check.get("steps")) if _map(each).get("known")]
    return {
        "number": int(_number(record.get("number")) or 0),
        "kept_utc_s": _number(record.get("kept_utc_s")) or 0.0,
        "word": _text(far, "word") or "Guided check",
        "below": _text(far, "below"),
        "steps": len(steps),
    }


def _facts(record: Record, title: str) -> str:
    when = _number(record.get("kept_utc_s"))
    names = _map(record.get("names"))
    rows = [
        ("motor", ", ".join(filter(None, (_text(record, "motor"), _text(record, "plate"))))),
        ("rig, board", ", ".join(filter(None, (_text(record, "rig"), f"serial number {_text(record, 'serial')}")))),
        ("source", "" if _text(record, "source") in ("", "hardware") else f"{_text(record, 'source')}: no hardware"),
        ("run", _text(record, "run")),
        ("kept", "" if when is None else _when(when)),
        ("wires now", "; ".join(filter(None, (_named("ABC", names.get("halls")), _named("UVW", names.get("phases")))))),
    ]
    said = "".join(f"<div><dt>{escape(name)}</dt><dd>{escape(words)}</dd></div>" for name, words in rows if words)
    return f"<h2>{escape(title)}</h2><dl>{said}</dl>"


def _verdicts(record: Record) -> str:
    """The first one large, the others beside each other below it."""
    told = enumerate(map(_map, _list(record.get("verdicts"))))
    all_of_them = [_verdict(each, k == 0 or _text(each, "certainty") != "plain") for k, each in told]
    rest = "".join(all_of_them[1:])
    return "".join(all_of_them[:1]) + (f'<div class="rest">{rest}</div>' if rest else "")


def _verdict(verdict: Record, with_test: bool) -> str:
    """`with_test`: with what to do next, its caution first; what holds already needs none beside the first."""
    signs = "".join(
        f"<li>{_SPEAKS.get(_text(sign, 'speaks'), '')}: {escape(_text(sign, 'text'))}</li>"
        for sign in map(_map, _list(verdict.get("signs")))
    )
    opens = "".join(f"<li>open: {escape(str(one))}</li>" for one in _list(verdict.get("open")))
    test = _map(verdict.get("next_test")) if with_test else {}
    after = f"<p><b>Next:</b> {escape(_text(test, 'text'))}</p>" if test else ""
    before = f'<p class="caution">{escape(_text(test, "caution"))}</p>' if _text(test, "caution") else ""
    question, answer = escape(_text(verdict, "question")), escape(_text(verdict, "answer"))
    return f"<section><h2>{question}</h2><p><b>{answer}</b></p><ul>{signs}{opens}</ul>{before}{after}</section>"


def _mends(record: Record) -> str:
    ways = [each for each in map(_map, _list(record.get("mends"))) if _list(each.get("cables"))]
    drawn = "".join(map(_mend, ways))
    head = '<h2>Where each wire goes <span class="second">any one of these ways</span></h2>'
    return f"<section>{head}{drawn}</section>" if drawn else ""


def _mend(way: Record) -> str:
    wires = "".join(wires_svg(_map(cable)) for cable in _list(way.get("cables")))
    acts = " ".join(map(str, _list(way.get("acts")))).rstrip(".")
    return f"<figure>{wires}<figcaption>{escape(acts)}; {escape(_text(way, 'runs'))}.</figcaption></figure>"


def _timing(record: Record) -> str:
    timing = _map(record.get("timing"))
    if not timing:
        return ""
    note = f"mean of {escape(_text(timing, 'turns'))} turns; dashed: where it should be"
    head = f'<h2>Hall signals against the back-EMF <span class="second">{note}</span></h2>'
    return f"<section>{head}{timing_svg(timing)}</section>"


def _fits(record: Record) -> str:
    rows = "".join(
        _row(_text(each, "words"), _signed(_number(each.get("fraction")) or 0.0))
        for each in map(_map, _list(record.get("fits")))
    )
    head = "<h2>Torque fraction of six orders</h2>"
    return f"<section>{head}<table>{rows}</table></section>" if rows else ""


def _steps(record: Record) -> str:
    steps = map(_map, _list(_map(record.get("check")).get("steps")))
    rows = "".join(
        _row(f"{number} {_text(each, 'title')}", _text(each, "found"), not each.get("passed"))
        for number, each in enumerate(steps, 1)
        if each.get("known")
    )
    return f"<section><h2>Step by step</h2><table>{rows}</table></section>" if rows else ""


def _cautions(record: Record) -> str:
    said = " ".join(map(str, _list(record.get("cautions"))))
    watches = "Slipring watches, it does not protect."
    return f'<p class="caution"><b>Before anything is touched or switched on.</b> {escape(said)} {watches}</p>'


def _row(name: str, words: str, skipped: bool = False) -> str:
    said = f"{words} (not passed)" if skipped and words != "Skipped." else words
    return f'<tr><th scope="row">{escape(name)}</th><td>{escape(said)}</td></tr>'


def _signed(fraction: float) -> str:
    rounded = round(fraction, 2) or 0.0  # no sign before nothing
    return f"{rounded:+.2f}".replace("-", "−") if rounded else "0.00"


def _named(letters: str, names: object) -> str:
    said = [(letter, str(name)) for letter, name in zip(letters, _list(names), strict=False) if name]
    return ", ".join(f"{letter} {name}" for letter, name in said)


def _when(utc_s: float) -> str:
    try:
        return datetime.fromtimestamp(utc_s, UTC).strftime("%d %B %Y, %H:%M UTC")
    except (ValueError, OverflowError, OSError):
        return ""


def _map(value: object) -> Record:
    return value if isinstance(value, Mapping) else {}


def _list(value: object) -> Sequence[Any]:
    return value if isinstance(value, list) else []


def _text(record: Record, key: str) -> str:
    value = record.get(key)
    return "" if value is None or isinstance(value, (dict, list)) else str(value)


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, (int, float)) and abs(value) < 1e12 else None
