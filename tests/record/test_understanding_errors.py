"""Every mistake in a record's files: where it is reported, what was found, what was expected, what to do."""

from __future__ import annotations

import sys

import pytest

from vesselspec.model.devices import Load
from vesselspec.model.forms import specs
from vesselspec.record import Place, Problem, Record, read
from vesselspec.record.explain import MOST_PROBLEMS
from vesselspec.record.yaml import load

HEAD = "vessel: {record: 1, name: X, practice: north-american}\n"


def reading(text: str | bytes, **more: str) -> Record:
    """Read a vessel.yaml, its header put in front, and further files (`a` stands for `a.yaml`)."""
    body = text if isinstance(text, bytes) else text.encode()
    return read({"vessel.yaml": HEAD.encode() + body} | {f"{name}.yaml": said.encode() for name, said in more.items()})


def only(record: Record) -> Problem:
    assert record.vessel is None
    assert len(record.problems) == 1, record.problems
    return record.problems[0]


FIELDS_OF_A_LOAD = "one of kind, " + ", ".join(spec.key for _, spec in specs(Load))
POLES = "a pole: L1 L2 L3 N PE DC+ DC-"
ID = "an id: letters, digits and . _ + - after a letter or digit; at most 64 characters"
ADDRESS = "an address: `id`, `device/side`, `panel/section` or `panel/section/way`"
MAPPING = "a mapping (`field: value` lines)"


@pytest.mark.parametrize(
    ("text", "at", "found", "expected", "remedy"),
    [
        pytest.param(
            "loads:\n  fan: {powr: 5 W}",
            (3, 9),
            "loads/fan has the unknown field `powr`",
            FIELDS_OF_A_LOAD,
            "did you mean `power`?",
            id="misspelt field",
        ),
        pytest.param(
            "lods: {}",
            (2, 1),
            "the file has the unknown field `lods`",
            "one of vessel, spaces, systems, devices, panels, loads, cable_types, bundles, cables, interlocks, "
            "conditions, days, concessions",
            "did you mean `loads`?",
            id="misspelt collection",
        ),
        pytest.param(
            "spaces:\n  s: {zzz: 1}",
            (3, 7),
            "spaces/s has the unknown field `zzz`",
            "one of name, formerly, note, photos, evidence, engine_space, ambient, wet, fuel_vapour",
            "delete it, or put it into `note`",
            id="unknown field",
        ),
        pytest.param(
            "loads:\n  s:\n    kind: receptacle",
            (4, 11),
            "loads/s/kind is `receptacle`",
            "one of load, receptacles",
            "did you mean `receptacles`?",
            id="misspelt kind",
        ),
        pytest.param(
            "loads:\n  fan: {power: 1500}",
            (3, 16),
            "loads/fan/power is `1500`",
            "a number with its unit",
            "write the unit, for example `1500 W`",
            id="bare number",
        ),
        pytest.param(
            "cables:\n  C: {from: a, to: b, size: 12}",
            (3, 29),
            "cables/C/size is `12`",
            "a number with its unit",
            "write the unit, for example `12 AWG`",
            id="bare size",
        ),
        pytest.param(
            "systems:\n  s: {kind: dc, voltage: 12}",
            (3, 26),
            "systems/s/voltage is `12`",
            "a number with its unit",
            "write the unit, for example `120/240 V`",
            id="bare voltage",
        ),
        pytest.param(
            "devices:\n  s: {kind: switch, rating: 20 V}",
            (3, 29),
            "devices/s/rating: '20 V': 'V' is a unit of voltage; write a current, for example '30 A' "
            "(units: A, mA or kA)",
            "",
            "write for example `150 A`",
            id="wrong unit",
        ),
        pytest.param(
            "devices:\n  s:\n    kind: switch\n    rating: |\n      20 A\n",
            (5, 13),
            "devices/s/rating: '20 A\\n' starts or ends with blank space; write a current, for example '30 A'",
            "",
            "write for example `150 A`",
            id="line break after the unit",
        ),
        pytest.param(
            "cables:\n  C: {from: a, to: b, size: 5/0 AWG}",
            (3, 29),
            "cables/C/size: '5/0 AWG' is no gauge known here (30 to 1, 1/0 to 4/0); write a conductor size, "
            "for example '12 AWG', '4/0 AWG' or '6 mm2'",
            "",
            "write for example `12 AWG`",
            id="no such gauge",
        ),
        pytest.param(
            "systems:\n  s: {kind: dc, voltage: 120/150 V}",
            (3, 17),
            "systems/s/voltage: '120/150 V' is neither split phase (1 to 2) nor three-phase (1 to 1.73): the ratio is "
            "1 to 1.25; write a system voltage, for example '12 V', '120/240 V' or '400/230 V'",
            "a real value",
            "correct it",
            id="no such pair of voltages",
        ),
        pytest.param(
            "loads:\n  fan: {poles: L1}",
            (3, 16),
            "loads/fan/poles is `L1`",
            "a list",
            "for example `[L1, N]`",
            id="text for a list",
        ),
        pytest.param(
            "loads:\n  fan: []", (3, 8), "loads/fan is a list", MAPPING, f"write {MAPPING}", id="list for an entry"
        ),
        pytest.param(
            "interlocks:",
            (2, 12),
            "interlocks is nothing",
            MAPPING,
            "for example `{source-slide: {between: [ac-main/shore/1, ac-main/shore/2]}}`",
            id="empty collection",
        ),
        pytest.param(
            "panels:\n  p:\n    sections: 5",
            (4, 15),
            "panels/p/sections is `5`",
            MAPPING,
            'for example `{house: {ways: {"1": {rating: 20 A, poles: [L1]}}}}`',
            id="number for a mapping",
        ),
        pytest.param(
            "loads:\n  fan: {motor: yes}",
            (3, 16),
            "loads/fan/motor is `yes`",
            "true or false",
            "for example `true`",
            id="yes is a word",
        ),
        pytest.param(
            "loads:\n  fan: {name: 010}",
            (3, 15),
            "loads/fan/name is `10`",
            "text",
            "put it in quotes",
            id="number for text",
        ),
        pytest.param(
            "loads:\n  fan: {name: true}",
            (3, 15),
            "loads/fan/name is `true`",
            "text",
            "put it in quotes",
            id="true for text",
        ),
        pytest.param(
            "devices:\n  s:\n    rating: 5 A",
            (3, 3),
            "devices/s has no `kind`",
            "What it is; it decides which other fields there are",
            "add `kind:` for example `shore-inlet`",
            id="missing kind",
        ),
        pytest.param(
            "interlocks:\n  i: {}",
            (3, 3),
            "interlocks/i has no `between`",
            "The ways or devices that it holds apart",
            "add `between:` for example `[ac-main/shore/1, ac-main/shore/2]`",
            id="missing required field",
        ),
        pytest.param(
            "loads:\n  fan: {poles: [N, L4]}",
            (3, 20),
            "loads/fan/poles/1 is `L4`",
            "one of L1, L2, L3, N, PE, DC+, DC-",
            "choose one of these",
            id="unknown pole",
        ),
        pytest.param(
            "cables:\n  C: {from: a, to: b, cores: {black: L4}}",
            (3, 38),
            "cables/C/cores/black is `L4`",
            f"{POLES}; `spare` or `untraced`; or a mapping that tells the two ends apart",
            "for example `L1`",
            id="unknown pole of a core",
        ),
        pytest.param(
            'cables:\n  C: {from: a, to: b, cores: {black: {to: "main:X"}}}',
            (3, 43),
            "cables/C/cores/black/to is `main:X`",
            f"{POLES}; a terminal `place:POLE`; `untraced` or `free`",
            "for example `N`",
            id="unknown pole of a landing",
        ),
        pytest.param(
            "cables:\n  C: {from: a, to: b, cores: {black: 1}}",
            (3, 38),
            "cables/C/cores/black is `1`",
            f"text or {MAPPING}",
            "see the field's description in the schema",
            id="number for a core",
        ),
        pytest.param(
            "cables:\n  C: {from: a, to: b, cores: {Black: L1}}",
            (3, 31),
            "cables/C/cores/Black: `Black` cannot be a key here",
            "a core by its colour or mark: small letters, digits, blanks and -; at most 40 characters",
            "correct it",
            id="bad name of a core",
        ),
        pytest.param(
            "loads:\n  fan: {}\n  galley fan: {}",
            (4, 3),
            "loads/galley fan: `galley fan` cannot be a key here",
            ID,
            "rename it, and what refers to it; `name` can hold any words",
            id="bad id",
        ),
        pytest.param(
            'loads:\n  "fan\\n": {}',
            (3, 3),
            "loads/fan\n: `fan\n` cannot be a key here",
            ID,
            "rename it, and what refers to it; `name` can hold any words",
            id="id with a line break",
        ),
        pytest.param(
            "cables:\n  C: {from: a/b/c/d, to: b}",
            (3, 13),
            "cables/C/from is `a/b/c/d`",
            ADDRESS,
            "for example `ac-main/a/4`",
            id="bad address",
        ),
        pytest.param(
            "conditions:\n  c: {running: [], positions: {a b: open}}",
            (3, 32),
            "conditions/c/positions/a b: `a b` cannot be a key here",
            ADDRESS,
            "join ids with /; no blanks",
            id="bad address as key",
        ),
        pytest.param(
            "loads:\n  r: {power: {L1: 5 W}}",
            (3, 15),
            "loads/r/power/L1: `L1` cannot be a key here",
            "a pair of poles, such as L1-N or L1-L2",
            "correct it",
            id="bad pair of poles",
        ),
        pytest.param(
            "conditions:\n  c: {running: [], demand: {fan: 1.5}}",
            (3, 34),
            "conditions/c/demand/fan is `1.5`",
            "a number from 0 to 1",
            "correct it",
            id="too great",
        ),
        pytest.param(
            "loads:\n  fan: {poles: []}",
            (3, 16),
            "loads/fan/poles is empty",
            "at least 1 of its entries",
            "for example `[L1, N]`",
            id="empty list",
        ),
        pytest.param(
            "loads:\n  fan: {poles: [L1, L1]}",
            (3, 16),
            "loads/fan/poles names something twice",
            "each once",
            "delete one of the two",
            id="twice in a list",
        ),
        pytest.param(
            f"loads:\n  fan: {{name: {'x' * 121}}}",
            (3, 15),
            "loads/fan/name has 121 characters",
            "at most 120",
            "shorten it, or split it",
            id="too long",
        ),
        pytest.param(
            "devices:\n  c: {kind: charger, outputs: [ac]}",
            (3, 32),
            "devices/c/outputs/0 is `ac`",
            "a name other than ac",
            "choose another; this one has a meaning of its own here",
            id="name that is taken",
        ),
        pytest.param(
            "loads:\n  a: {evidence: {how: traced, when: 14.3.2026}}",
            (3, 37),
            "loads/a/evidence/when is `14.3.2026`",
            "a day, year first: YYYY-MM-DD",
            "for example `2026-03-14`",
            id="another way to write a day",
        ),
        pytest.param(
            "loads:\n  a: {evidence: {how: traced, when: 2026-02-30}}",
            (3, 31),
            "loads/a/evidence/when: day is out of range for month",
            "a real value",
            "correct it",
            id="no such day",
        ),
        pytest.param(
            "loads:\n  a: {photos: [lid.jpg, ../lid.jpg]}",
            (3, 25),
            "loads/a/photos/1 is `../lid.jpg`",
            "a path inside the vessel's folder, with / between folders and no `..`",
            "correct it",
            id="path out of the folder",
        ),
        pytest.param(
            "loads:\n  a: {power_factor: .inf}",
            (3, 21),
            "loads/a/power_factor is `.inf`",
            "a number",
            "for example `0.8`",
            id="infinity",
        ),
        pytest.param(
            "loads:\n  a: {power_factor: .nan}",
            (3, 21),
            "loads/a/power_factor is `.nan`",
            "a number",
            "for example `0.8`",
            id="not a number",
        ),
        pytest.param(
            "loads:\n  a: {power_factor: 1e999}",
            (3, 21),
            "loads/a/power_factor is `1e999`",
            "a number",
            "for example `0.8`",
            id="beyond every float",
        ),
        pytest.param(
            f"loads:\n  a: {{power_factor: {'9' * 400}}}",
            (3, 21),
            f"loads/a/power_factor is `{'9' * 67}...`",
            "a number",
            "for example `0.8`",
            id="huge number",
        ),
        pytest.param(
            "cables:\n  C:\n    from: &place main\n    to: b\n    <<: {size: 12 AWG}",
            (6, 5),
            "cables/C has the unknown field `<<`",
            "one of name, formerly, note, photos, evidence, type, from, to, size, length, insulation, sheath, cores, "
            "route, bundle, label, labels, joints",
            "merge keys are no YAML 1.2: write the fields out, or give cables a common `type`",
            id="merge key",
        ),
    ],
)
def test_what_the_schema_refuses(text: str, at: tuple[int, int], found: str, expected: str, remedy: str) -> None:
    assert only(reading(text)) == Problem(Place("vessel.yaml", *at), found, expected, remedy)


LOOK = "look at the line named and the one before it: indentation, a missing colon, an open bracket or quote"


@pytest.mark.parametrize(
    ("text", "at", "found", "remedy"),
    [
        pytest.param(b"# \xc3\xa9 \xff", (2, 5), "byte 0xff is not UTF-8", "save the file as UTF-8", id="not UTF-8"),
        pytest.param(b"a: \xc3", (2, 4), "byte 0xc3 is not UTF-8", "save the file as UTF-8", id="half a character"),
        pytest.param(
            b"# \xc3\xa9\r# \x07",
            (3, 3),
            "character U+0007 is not allowed in YAML",
            "delete it, or write it as an escape inside double quotes",
            id="control character",
        ),
        pytest.param(
            "loads:\n  a: {note: x\u2028y}".encode(),
            (3, 14),
            "character U+2028 is not allowed in YAML",
            "delete it, or write it as an escape inside double quotes",
            id="line break that editors do not show",
        ),
        pytest.param(b"loads:\n\ta: {}", (3, 1), "not YAML: a tab where only spaces may indent", LOOK, id="tab"),
        pytest.param(b"loads: {", (2, 9), "not YAML: did not find expected node content", LOOK, id="open bracket"),
        pytest.param(
            b'loads: "',
            (2, 9),
            "not YAML: found unexpected end of stream",
            LOOK,
            id="open quote at the end of the file",
        ),
        pytest.param(b"plain", (2, 6), "not YAML: could not find expected ':'", LOOK, id="missing colon"),
        pytest.param(
            b"loads: !!python/object:os.system {}",
            (2, 8),
            "the tag tag:yaml.org,2002:python/object:os.system",
            "delete the tag",
            id="tag",
        ),
        pytest.param(b"loads: !load {}", (2, 8), "the tag !load", "delete the tag", id="own tag"),
        pytest.param(
            b"---\nloads: {}", (2, 1), "a second document in one file", "split the file", id="second document"
        ),
        pytest.param(b"loads: *x", (2, 8), "alias *x without its anchor", "define it first", id="no anchor"),
        pytest.param(b"loads: &x {a: *x}", (2, 15), "alias *x without its anchor", "define it first", id="loop"),
        pytest.param(
            b"spaces:\n  a: {}\n  a: {}",
            (4, 3),
            "the key 'a' stands here and already at line 3, column 3",
            "delete or rename one of the two",
            id="key twice",
        ),
        pytest.param(
            b"spaces:\n  a: {}\n  'a': {}",
            (4, 3),
            "the key 'a' stands here and already at line 3, column 3",
            "delete or rename one of the two",
            id="key twice, once in quotes",
        ),
        pytest.param(
            b"spaces: {[a]: {}}", (2, 10), "a key that is not plain text", "write the key as text", id="list as key"
        ),
        pytest.param(b"a: " + b"[" * 100_000, (2, 64), "nested more than 60 deep", "write it flatter", id="brackets"),
        pytest.param(b"a: " + b"{a: " * 100_000, (2, 244), "nested more than 60 deep", "write it flatter", id="braces"),
        pytest.param(b"[" * 100_000, (2, 1026), "not YAML: could not find expected ':'", LOOK, id="brackets as key"),
        pytest.param(b"a:\n" + b"- " * 100_000, (3, 121), "nested more than 60 deep", "write it flatter", id="dashes"),
    ],
)
def test_what_is_no_yaml(text: bytes, at: tuple[int, int], found: str, remedy: str) -> None:
    problem = only(reading(text))
    assert (problem.place, problem.found, problem.remedy) == (Place("vessel.yaml", *at), found, remedy)


def test_places_behind_a_byte_order_mark() -> None:
    mark = b"\xef\xbb\xbf"
    good = read({"vessel.yaml": mark + HEAD.encode()})
    assert good.problems == ()
    assert only(read({"vessel.yaml": mark + HEAD.encode() + b"# \xff"})) == Problem(
        Place("vessel.yaml", 2, 3), "byte 0xff is not UTF-8", "UTF-8 text", "save the file as UTF-8"
    )
    misspelt = read({"vessel.yaml": mark + b"vessel: {record: 1, name: X, practise: a, practice: north-american}"})
    assert only(misspelt).place == Place("vessel.yaml", 1, 30)


@pytest.mark.parametrize("ending", ["\r\n", "\r", "\n"])
def test_line_endings(ending: str) -> None:
    text = (HEAD + "loads:\n  fan: {name: a}\n  lamp: {nme: b}\n").replace("\n", ending)
    assert only(read({"vessel.yaml": text.encode()})).place == Place("vessel.yaml", 4, 10)


def test_an_alias_bomb_is_refused_at_its_hundred_thousandth_value() -> None:
    """Work is bounded by the count: it stops in line 6, where the bomb would make a million, and reads no further."""
    lines = ["x0: &a0 [lol, lol, lol, lol, lol, lol, lol, lol, lol, lol]"]
    lines += [f"x{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 9)]
    problem = only(reading("\n".join(lines)))
    assert problem.found == "more than 100,000 values behind aliases"
    assert problem.place == Place("vessel.yaml", 6, 45)
    # Just below that limit, a mistake is still explained.
    demand = ", ".join(f"l{n}: 0.5" for n in range(4000))
    text = f"conditions:\n  c0: &c {{running: [], demand: {{{demand}}}}}\n"
    problem = only(reading(text + "".join(f"  c{n}: *c\n" for n in range(1, 24)) + "lods: {}\n"))
    assert problem.found == "the file has the unknown field `lods`"


def test_too_much_in_one_file() -> None:
    assert only(reading("loads: [" + "1," * 1_000_001 + "]")).found == "more than 1,000,000 values"


def test_long_text_behind_many_aliases() -> None:
    text = "loads:\n  a: {note: &n " + "x" * 1_000_000 + "}\n" + "".join(f"  a{n}: {{note: *n}}\n" for n in range(300))
    record = reading(text)
    assert record.vessel is None
    assert record.problems[0].found == f"more than {MOST_PROBLEMS} problems in this file"
    assert len(record.problems) == MOST_PROBLEMS + 1
    assert all(len(problem.found) < 300 for problem in record.problems)


def test_anchors_are_allowed() -> None:
    record = reading("loads:\n  a: &fan {power: &p 5 W, motor: true}\n  b: *fan\n  c: {power: *p}\n")
    assert record.vessel is not None
    assert [load_.power_w for load_ in record.vessel.loads.values()] == [5.0, 5.0, 5.0]
    assert record.places.of("loads", "b", "motor") == Place("vessel.yaml", 3, 27)  # where it is written
    assert record.places.of("loads", "b") == Place("vessel.yaml", 4, 3)


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("no", "no"), ("off", "off"), ("yes", "yes"), ("on", "on"), ("y", "y"),
        ("true", True), ("False", False), ("TRUE", True), ("tRue", "tRue"),
        ("010", 10), ("0o10", "0o10"), ("0x1F", "0x1F"), ("1_000", "1_000"), ("+12", 12), ("-0", 0),
        ("1.", 1.0), (".5", 0.5), ("1e3", 1000.0), ("1:30", "1:30"), ("12:30:45", "12:30:45"),
        ("2026-02-30", "2026-02-30"), ("2026-03-14T00:00:00Z", "2026-03-14T00:00:00Z"),
        ("~", None), ("null", None), ("", None), ("NULL", None), ("none", "none"),
        (".inf", ".inf"), ("-.INF", "-.INF"), (".NaN", ".NaN"), ("1e999", "1e999"), ("-1e999", "-1e999"),
        ("-", [None]), ("=", "="), ("'12'", "12"), ('"true"', "true"),
        ('"\\e[31m\\u202e"', "\x1b[31m\u202e"), ("a\u00a0b", "a\u00a0b"), ("4/0 AWG", "4/0 AWG"),
    ],
)  # fmt: skip
def test_plain_words_are_read_as_yaml_1_2_says(written: str, value: object) -> None:
    (found,) = load(f"- {written}\n".encode())
    assert found == value
    assert type(found) is type(value) or isinstance(found, list)


def test_quoted_keys() -> None:
    record = reading('"loads":\n  \'fan\':\n    "name": a\n  "12": {}\n  no: {}\n')
    assert record.vessel is not None
    assert list(record.vessel.loads) == ["12", "fan", "no"]
    assert record.places.of("loads", "fan", "name") == Place("vessel.yaml", 4, 5)


def test_half_of_a_surrogate_pair() -> None:
    assert only(reading('loads: {a: {name: "\\ud800"}}')).place.line == 2


@pytest.mark.parametrize("text", ["", "\n", "# nothing yet\n", "---\n", "~\n", "\ufeff"])
def test_an_empty_file_is_fine(text: str) -> None:
    record = reading("", empty=text)
    assert record.problems == ()
    assert record.vessel is not None


@pytest.mark.parametrize("text", ["- a\n", "[]\n", "word\n", "12\n", "'vessel: x'\n"])
def test_a_file_must_be_a_mapping(text: str) -> None:
    problem = only(reading("", wrong=text))
    assert problem.place == Place("wrong.yaml", 1, 1)
    assert problem.found == "the file is not a mapping"
    assert problem.expected.startswith("a mapping of collections: spaces, systems, devices, ")
    assert problem.remedy == "start with `cables:`, say"


START = "start it with `vessel: {record: 1, name: ..., practice: north-american}`"


@pytest.mark.parametrize(
    ("files", "found"),
    [
        ({}, "there is no vessel.yaml"),
        ({"a.yaml": b"loads: {}"}, "there is no vessel.yaml"),
        ({"sub/vessel.yaml": b""}, "there is no vessel.yaml"),
        ({"vessel.yaml": b""}, "vessel.yaml has no `vessel`"),
        ({"vessel.yaml": b"loads: {}"}, "vessel.yaml has no `vessel`"),
    ],
)
def test_a_record_without_its_vessel(files: dict[str, bytes], found: str) -> None:
    assert only(read(files)) == Problem(Place("vessel.yaml"), found, "the vessel's name and practice there", START)


def test_the_vessel_described_twice() -> None:
    problem = only(reading("", other="loads: {}\n" + HEAD))
    assert problem == Problem(
        Place("other.yaml", 2, 1),
        "`vessel` in other.yaml",
        "the vessel itself described once, in vessel.yaml",
        "move it to vessel.yaml",
    )
    moved = read({"boat.yaml": HEAD.encode()})
    assert [(str(p.place), p.found) for p in moved.problems] == [
        ("boat.yaml:1:1", "`vessel` in boat.yaml"),
        ("vessel.yaml", "there is no vessel.yaml"),
    ]


def test_another_format_or_practice() -> None:
    record = read({"vessel.yaml": b"vessel: {record: 2, name: X, practice: british}"})
    assert [(str(p.place), p.found, p.expected) for p in record.problems] == [
        ("vessel.yaml:1:18", "vessel/record is `2`", "1"),
        ("vessel.yaml:1:40", "vessel/practice is `british`", "one of north-american, international"),
    ]


def test_one_id_in_two_files() -> None:
    record = reading("", a="loads:\n  fan: {}\n", b="# fan again\nloads:\n    fan: {}\n")
    assert only(record) == Problem(
        Place("b.yaml", 3, 5),
        "loads/fan stands here and already at a.yaml:2:3",
        "each id once in the whole record",
        "rename one of the two, or delete the one that is not on board",
    )


@pytest.mark.parametrize(
    ("first", "second"), [("devices", "loads"), ("devices", "panels"), ("panels", "loads"), ("loads", "cables")]
)
def test_one_id_for_two_things(first: str, second: str) -> None:
    entries = {
        "devices": "{kind: junction}",
        "loads": "{}",
        "panels": "{sections: {}}",
        "cables": "{from: untraced, to: untraced}",
    }
    record = reading(f"{second}:\n  x: {entries[second]}\n{first}:\n  x: {entries[first]}\n")
    problem = only(record)
    assert problem.place == Place("vessel.yaml", 3, 3)
    assert problem.found == "x stands here and already at vessel.yaml:5:3"


def test_ids_of_other_collections_do_not_clash() -> None:
    record = reading("spaces: {x: {}}\nsystems: {x: {kind: dc, voltage: 12 V}}\nbundles: {x: {}}\nloads: {x: {}}\n")
    assert record.problems == ()


def test_everything_is_reported_in_one_run_and_in_order_of_place() -> None:
    record = reading(
        "loads:\n  fan: {powr: 5 W, power: 5}\n  lamp: {poles: [L9]}\n  heater: {}\nsystems: {s: {}}\n",
        a="loads: {heater: {}}\ncables: {C: {from: untraced, to: untraced}}\n",
        b="cables:\n\tC: {}\n",
        c="bundles: {z: {evidence: {how: traced, when: 2025-02-29}}}\nsystems: {t: {kind: dc, voltage: 120/150 V}}\n",
        d="conditions: {c: {running: [shore]}}\nvessel: {}\n",
    )
    assert record.vessel is None
    assert [(str(p.place), p.found.split("; ")[0].split(": ")[0]) for p in record.problems] == [
        ("b.yaml:2:1", "not YAML"),
        ("c.yaml:1:39", "bundles/z/evidence/when"),
        ("c.yaml:2:25", "systems/t/voltage"),
        ("d.yaml:2:1", "`vessel` in d.yaml"),
        ("d.yaml:2:1", "vessel has no `name`"),
        ("d.yaml:2:1", "vessel has no `practice`"),
        ("d.yaml:2:1", "vessel has no `record`"),
        ("vessel.yaml:3:9", "loads/fan has the unknown field `powr`"),
        ("vessel.yaml:3:27", "loads/fan/power is `5`"),
        ("vessel.yaml:4:18", "loads/lamp/poles/0 is `L9`"),
        ("vessel.yaml:5:3", "loads/heater stands here and already at a.yaml:1:9"),
        ("vessel.yaml:6:11", "systems/s has no `kind`"),
        ("vessel.yaml:6:11", "systems/s has no `voltage`"),
    ]


def test_a_refused_file_is_never_passed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """Were the two validators to disagree, the file must not vanish as if it held nothing."""
    import vesselspec.record.explain as module

    class Blind:
        def iter_errors(self, data: object) -> tuple[()]:
            return ()

    monkeypatch.setattr(module, "_explainer", Blind)
    record = reading("", a="loads: {fan: {powr: 5 W}}")
    assert [str(p.place) for p in record.problems] == ["a.yaml:1:1"]
    assert record.vessel is None


def test_without_the_parser_in_c(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "_ruamel_yaml", None)
    assert load(b"a: [1, {b: 'x'}]\n# end\n") == {"a": [1, {"b": "x"}]}
    assert only(reading("loads:\n\ta: {}")).found == "not YAML: a tab where only spaces may indent"
    assert only(reading('loads: {a: {name: "\\ud800"}}')).found == "half of a surrogate pair"
    assert only(reading("loads: !!python/object:os.system {}")).remedy == "delete the tag"
    assert only(reading("spaces: {a: {}, a: {}}")).place == Place("vessel.yaml", 2, 17)
    assert only(reading(b"a: " + b"[" * 2_000)).found == "nested more than 60 deep"
