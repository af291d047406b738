"""Modus, the open exchange format for laboratory results: v1 XML, v1 JSON and slim JSON.

The formats are read by their structure. A test code such as ``S-P-M3.04`` tells the method;
the small table ``tables/modus.csv`` holds the tokens known here. Recommendations are no
results, and events of plants or nematodes are no soil.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element, ParseError

import numpy as np
from defusedxml import DefusedXmlException
from defusedxml import ElementTree as SafeTree

from soiltrend import limits, tables
from soiltrend.errors import ReadError
from soiltrend.reading.gather import FIELDS, Found
from soiltrend.reading.grid import column

SOIL = "soil"
TEXTURES = {"PercentSand": "sand", "PercentSilt": "silt", "PercentClay": "clay"}


@dataclass(eq=False)
class Node:
    """A named piece of a file with its text, its attributes and the pieces inside it.

    Attributes
    ----------
    name, text : str
        As in the file.
    attributes : dict
        Attributes of an XML element.
    inside : list of Node
        In the order of the file.
    """

    name: str
    text: str = ""
    attributes: dict[str, str] = field(default_factory=dict)
    inside: list[Node] = field(default_factory=list)

    def walk(self) -> Iterator[Node]:
        """Return all pieces inside this one, at any depth, in the order of the file."""
        waiting = self.inside[::-1]
        while waiting:
            piece = waiting.pop()
            yield piece
            waiting += piece.inside[::-1]

    def get(self, name: str) -> str:
        """Return the text of a piece directly inside, or of an attribute, or empty."""
        for piece in self.inside:
            if piece.name == name:
                return piece.text or piece.attributes.get("ID", "")
        return self.attributes.get(name, "")

    def records(self, name: str, *, having: Sequence[str]) -> list[Node]:
        """Return the pieces called ``name`` or its plural that hold one of ``having``."""
        return [piece for piece in self.walk() if piece.name in (name, f"{name}s")
                and any(piece.get(key) or any(part.name == key for part in piece.inside) for key in having)]


def _of_xml(element: Element) -> Node:
    name = element.tag.rpartition("}")[2]
    attributes = {key.rpartition("}")[2]: value.strip() for key, value in element.attrib.items()}
    return Node(name, (element.text or "").strip(), attributes, [_of_xml(child) for child in element])


def _of_json(name: str, value: Any) -> list[Node]:
    """Return the pieces of a JSON value; an array becomes one piece for each of its items."""
    if isinstance(value, list):
        return [node for item in value for node in _of_json(name, item)]
    if isinstance(value, dict):
        inside = [node for key, item in value.items() for node in _of_json(str(key), item)]
        return [Node(name, inside=inside)]
    return [Node(name, "" if value is None else value if isinstance(value, str) else json.dumps(value))]


@lru_cache(maxsize=None)
def _rows(part: str) -> tuple[tuple[str, str, str, str, str], ...]:
    """Return (token, analyte, tail, name, note) of a part of the table, the longest tokens first."""
    table = tables.load("modus")
    table = table[table["part"] == part]
    rows = [(str(row.token).upper(), str(row.analyte), str(row.tail), str(row.name_), str(row.note))
            for row in table.rename(columns={"name": "name_"}).itertuples()]
    return tuple(sorted(rows, key=lambda row: (len(row[0]), len(row[2]), len(row[1])), reverse=True))


def method_of(code: str) -> tuple[str, str]:
    """Return (method, note) that a test code tells; empty when it tells none known here.

    Examples
    --------
    >>> method_of("S-P-B1-1:10.01.03"), method_of("S-PH-1:1.02.08")
    (('Bray P1', ''), ('CaCl2', ''))
    >>> method_of("S-CEC.19"), method_of("S-NO3-1:5.01.01")
    (('summation', ''), ('', ''))
    """
    bare = code.strip().upper().removeprefix("S-")
    analyte, _, rest = bare.partition("-")
    if bare.endswith(".19"):
        for token, _, _, name, _ in _rows("calculated"):
            if bare in (f"{token}.19",) or bare.startswith(f"{token}-"):
                return name, ""
    for token, only, tail, name, note in _rows("extractant"):
        if only in ("", analyte) and (rest == token or rest.startswith(f"{token}.")) \
                and rest[len(token):].startswith(tail):
            return name, note
    return "", ""


def _named(part: str, text: str) -> str:
    """Return the name that the table gives a token, else the token itself."""
    known = {token: name for token, _, _, name, _ in _rows(part)}
    return known.get(text.strip().upper(), text.strip())


def _unit(text: str) -> str:
    """Return a unit as the tables spell it; UCUM annotations in braces are left out."""
    return _named("unit", text.split("{")[0] or text)


@dataclass(eq=False)
class Harvest:
    """Values gathered from a file, one mapping each, and what there is to say of it."""

    rows: list[dict[str, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    finished: list[str] = field(default_factory=list)

    def found(self) -> Found:
        """Return the values as found values."""
        columns = {name: column([row.get(name, "") for row in self.rows]) for name in FIELDS}
        place = np.empty(len(self.rows), dtype=object)
        place[:] = [row["place"] for row in self.rows]
        return Found(columns, place, list(dict.fromkeys(self.notes)), rows=np.full(len(self.rows), -1),
                     finished=tuple(self.finished))


def _depth_text(top: str, bottom: str, unit: str) -> str:
    return f"{top}-{bottom} {_unit(unit)}".strip() if top and bottom else ""


def _depths(event: Node) -> dict[str, str]:
    """Return the layer of each depth number, as text."""
    refs = event.records("DepthRef", having=("DepthID",))
    edges = [[ref.get(name) for name in ("StartingDepth", "EndingDepth", "DepthUnit")] for ref in refs]
    return {ref.get("DepthID"): _depth_text(*edge) or ref.get("Name")
            for ref, edge in zip(refs, edges, strict=True)}


def _kind(event: Node) -> str:
    """Return what an event is of: "soil", or another kind in the file's own word."""
    for piece in event.walk():
        if piece.name == "EventType":
            kinds = [part.name for part in piece.inside if part.text.casefold() != "false"]
            word = kinds[0] if kinds else piece.text
            return word.casefold() if word else SOIL
    return SOIL


def _first(node: Node, name: str) -> str:
    return next((piece.text for piece in node.walk() if piece.name == name and piece.text), "")


def _event(event: Node, number: int, out: Harvest) -> None:
    """Gather the results of one event."""
    if _kind(event) != SOIL:
        out.notes.append(f"event {number} is of kind '{_kind(event)}' and not of soil; it was not read")
        return
    shared = {"sampled": _first(event, "EventDate"), "lab": _first(event, "LabName"),
              "report": _first(event, "LabReportID") or _first(event, "LabEventID")}
    out.finished += [day] if (day := _first(event, "ProcessedDate")) else []
    depths = _depths(event)
    if any("Recommendation" in piece.name for piece in event.walk()):
        out.notes.append("the file holds recommendations, which are no results")
    for sample in event.records("SoilSample", having=("SampleMetaData", "Depths")):
        for depth in sample.records("Depth", having=("DepthID",)):
            fields = {**shared, "sample": _first(sample, "SampleNumber") or _first(sample, "FMISSampleID"),
                      "depth": depths.get(depth.get("DepthID"), "")}
            start = f"event {number}, sample {fields['sample']}"
            _nutrients(depth, fields, start, out)
            _textures(depth, fields, start, out)


def _nutrients(depth: Node, fields: dict[str, str], start: str, out: Harvest) -> None:
    """Gather the nutrient results of one sample and depth."""
    for result in depth.records("NutrientResult", having=("Element", "Value")):
        code, kind = result.get("ModusTestID"), result.get("ValueType")
        method, note = method_of(code)
        calculated = kind.casefold() == "calculated" and method != "summation"
        lacking = [name for name in ("ModusTestID", "ValueType") if not result.get(name)]
        if lacking:
            out.notes.append(f"some results lack {' and '.join(lacking)}, which the format asks for; "
                             "they were read all the same")
        out.rows.append({
            **fields, "label": _named("analyte", result.get("Element")),
            "unit": _unit(result.get("ValueUnit")),
            "method": method or code, "text": result.get("Value"), "rating": result.get("ValueDesc"),
            "note": "; ".join(filter(None, (note, "calculated by the laboratory" * calculated))),
            "place": f"{start}, {result.get('Element')} ({code or 'no test code'})"})


def _textures(depth: Node, fields: dict[str, str], start: str, out: Harvest) -> None:
    """Gather sand, silt and clay; the texture class is told and not valued."""
    for texture in depth.records("TextureResult", having=("SoilClassification", *TEXTURES)):
        if texture.get("SoilClassification"):
            out.notes.append(f"{start}: texture class '{texture.get('SoilClassification')}'")
        out.rows += [{**fields, "label": label, "unit": "%", "text": texture.get(name),
                      "place": f"{start}, {name}"} for name, label in TEXTURES.items() if texture.get(name)]


def _merged(under: Any, over: Any) -> Any:
    """Return two JSON values merged deeply, the second winning."""
    if isinstance(under, Mapping) and isinstance(over, Mapping):
        return {key: _merged(under.get(key), over[key]) if key in over else under[key]
                for key in {**under, **over}}
    return under if over is None else over


def _text(value: Any) -> str:
    if isinstance(value, Mapping):
        value = value.get("name") or value.get("id")
    return "" if value is None else value if isinstance(value, str) else json.dumps(value)


def _slim(data: Mapping[str, Any], out: Harvest) -> None:
    """Gather the results of a slim JSON file."""
    shared = {key: data[key] for key in ("lab", "source", "depth", "type", "date") if key in data}
    samples = data.get("samples") or {}
    for name, sample in (samples.items() if isinstance(samples, Mapping) else enumerate(samples, start=1)):
        told = _merged(shared, sample if isinstance(sample, Mapping) else {})
        if str(told.get("type", SOIL)).casefold() != SOIL:
            out.notes.append(f"sample '{name}' is of kind '{told['type']}' and not of soil; it was not read")
            continue
        _slim_sample(told, str(name), _text(data.get("id")), out)
    day = _text(data.get("date"))
    if day not in ("", *(row["sampled"] for row in out.rows)):  # where it is not that of sampling
        out.finished.append(day)


def _slim_sample(told: Mapping[str, Any], name: str, report: str, out: Harvest) -> None:
    """Gather the results of one sample of a slim JSON file."""
    source, depth = (told[key] if isinstance(told.get(key), Mapping) else {} for key in ("source", "depth"))
    edges = [_text(depth.get(key)) for key in ("top", "bottom", "units")]
    fields = {"sample": name, "report": report, "lab": _text(told.get("lab")),
              "sampled": _text(source.get("date")) or _text(told.get("date")),
              "depth": _depth_text(*edges) or _text(depth.get("name"))}
    results = told.get("results") or {}
    for key, result in (results.items() if isinstance(results, Mapping) else enumerate(results, start=1)):
        result = result if isinstance(result, Mapping) else {"analyte": key, "value": result}
        code = _text(result.get("modusTestID"))
        method, note = method_of(code)
        out.rows.append({
            **fields, "label": _named("analyte", _text(result.get("analyte"))), "note": note,
            "unit": _unit(_text(result.get("units"))), "method": method or code,
            "text": _text(result.get("value")), "place": f"sample {name}, result {key}"})


def _root_of_xml(path: Path) -> Node:
    raw = limits.contents(path, most=limits.EXCHANGE_BYTES)
    try:
        return _of_xml(SafeTree.fromstring(raw, forbid_dtd=True))
    except DefusedXmlException as error:
        raise ReadError(f"the file defines entities or a document type and is refused ({error})",
                        file=path.name, remedy="A laboratory's file needs none; do not trust it.") from error
    except (ParseError, ValueError, LookupError, RecursionError) as error:
        raise ReadError(f"the file is no well-formed XML ({error})", file=path.name,
                        remedy="It may have been cut short; ask for it again.") from error


def _finish(out: Harvest, root: Node) -> Found:
    """Return what was gathered of a v1 file, after its events."""
    events = root.records("Event", having=("EventMetaData", "EventSamples"))
    for number, event in enumerate(events, start=1):
        _event(event, number, out)
    if not out.rows:
        kind = "an order of tests" if "Submit" in root.name else "a file"
        count = len(root.records("SoilSample", having=("SampleMetaData",)))
        out.notes.append(f"this is {kind} of {count} soil samples that holds no results yet")
    return out.found()


def read_xml(path: Path) -> Found:
    """Return the values of a Modus v1 XML file.

    Raises
    ------
    ReadError
        When the file is no XML, is no Modus file, or defines entities (a hostile file).
    """
    root = _root_of_xml(path)
    if not root.name.startswith("Modus"):
        raise ReadError(f"the XML file begins with '{root.name}' and is no Modus file", file=path.name,
                        remedy="Modus files begin with ModusResult.")
    return _finish(Harvest(), root)


def read_json(path: Path) -> Found:
    """Return the values of a Modus JSON file, v1 or slim.

    Raises
    ------
    ReadError
        When the file is no JSON or no Modus file.
    """
    try:
        raw = limits.contents(path, most=limits.EXCHANGE_BYTES)
        data = json.loads(raw, parse_float=str, parse_int=str)
        if b"\\ud" in raw.lower():  # half of a pair of codes, written as an escape, is no letter
            data = json.loads(json.dumps(data, ensure_ascii=False).encode("utf-8", errors="replace"))
    except (ValueError, RecursionError) as error:
        raise ReadError(f"the file is no JSON ({error})", file=path.name,
                        remedy="It may have been cut short; ask for it again.") from error
    if isinstance(data, Mapping) and isinstance(data.get("samples"), (Mapping, list)):
        out = Harvest()
        _slim(data, out)
        return out.found()
    roots = _of_json("ModusResult", data)
    if len(roots) != 1 or not roots[0].records("Event", having=("EventMetaData", "EventSamples")):
        raise ReadError("the JSON file holds no Modus events or samples", file=path.name,
                        remedy="Known are Modus v1 (Events) and slim (samples).")
    return _finish(Harvest(), roots[0])
