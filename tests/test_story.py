"""The words claim what the table carries, and nothing else."""

import ast
import re
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from soiltrend import frames, story
from soiltrend.budget.core import SOURCES
from soiltrend.charts import chart_change
from soiltrend.compare import compare
from soiltrend.drift import drift
from soiltrend.errors import SoiltrendError
from soiltrend.exchange import exchange
from soiltrend.frames import GARDEN
from soiltrend.luck import ALL, luck
from soiltrend.noise import noise_model
from soiltrend.simulate import Design, simulate_garden
from soiltrend.story import phrases
from soiltrend.story.core import ALT, patience
from soiltrend.story.voice import Voice, amount, factor_of
from soiltrend.trend import trend

MADE = {"lab": "Hollin Bench", "top_cm": 0.0, "bottom_cm": 15.0}
MOVED = {"pH": (6.0, 7.1), "K": (200, 90), "Ca": (1500, 1560), "P": (40, 41), "OM": (3.0, 6.5)}


@pytest.fixture(scope="module")
def kept():
    """Return a place for what is made once."""
    return {}


@pytest.fixture
def change(kept, two_springs):
    if "change" not in kept:
        kept["change"] = compare(two_springs(MOVED), before="spring 2022", after="spring 2024")
    return kept["change"]


def test_the_headline_names_what_rose_and_fell(change):
    """pH rose and potassium fell: both are said, calcium and phosphorus are not."""
    assert story.headline(change, bed="East") == (
        "pH rose and potassium fell in East: 2 of 5 measures compared"
    )


def test_every_claim_is_in_the_table(change):
    """A measure named as risen or fallen has that verdict in the rows of the bed."""
    for bed in change.table["bed"].unique():
        head = story.headline(change, bed=bed)
        rows = change.table[change.table["bed"] == bed].set_index("analyte")
        for analyte in MOVED:
            for verdict in ("rose", "fell"):
                if any(
                    story.spoken(analyte).casefold() in part.casefold() and verdict in part
                    for part in head.split(" and ")
                ):
                    assert rows.loc[analyte, "verdict"] == verdict


def test_organic_matter_waits_for_three_years(change, two_springs):
    """Two years apart, a doubled humus is no headline; four years apart it is."""
    assert change.table.query("analyte == 'OM' and bed == 'East'")["verdict"].tolist() == ["rose"]
    assert "organic" not in story.headline(change, bed="East").casefold()
    assert "too soon" in story.headline_of_beds(change, analyte="OM")
    later = two_springs(MOVED)
    early = later["season"] == "spring 2022"
    years_back = later["sampled"] - pd.DateOffset(years=4)
    later["season"] = later["season"].mask(early, "spring 2018")
    later["sampled"] = later["sampled"].mask(early, years_back)
    long = compare(later, before="spring 2018", after="spring 2024")
    assert "organic matter" in story.headline(long, bed="East").casefold()


def test_nothing_sure_is_said_plainly(two_springs):
    """When no interval leaves out zero the headline says so and counts."""
    still = compare(
        two_springs({"pH": (6.4, 6.5), "K": (150, 160)}), before="spring 2022", after="spring 2024"
    )
    assert story.headline(still, bed="West").startswith("No sure change in West: 2 measures")
    assert story.headline_of_beds(still, analyte="K") == (
        "Potassium: no sure change in any of 2 beds, spring 2022 to spring 2024"
    )


def test_words_carry_season_lab_layer_and_n(change):
    """The subtitle says when, who, which layer and how many; the caption what the band is."""
    words = story.change_words(change, bed="East")
    for part in ("spring 2022", "spring 2024", "Hollin Bench", "0-15 cm", "n = 1"):
        assert part in words.subtitle
    assert "5 of 5 measures shown" in words.caption
    assert "95%" in words.caption
    assert words.headline in words.alt


@pytest.mark.parametrize("bed", ["East", GARDEN])
def test_no_cause_is_claimed(change, bed):
    """Words of cause do not occur: there is no check bed here."""
    words = story.change_words(change, bed=bed)
    text = " ".join((words.headline, words.subtitle, words.caption, words.alt)).casefold()
    assert not [word for word in ("because", "due to", "thanks to", "caused") if word in text]


def test_ph_is_said_to_be_logarithmic(change):
    """Beside a pH chart stands what a unit of pH is."""
    assert "logarithmic" in story.beds_words(change, analyte="pH").caption
    assert "logarithmic" not in story.beds_words(change, analyte="K").caption


ROOM = Path(story.__file__).parent
SENTENCE = re.compile(r"[A-Za-z]{2,}[ ,]+[A-Za-z]+[ ,]+[A-Za-z]+")
"""Three words in a row: more than a key, a format or a column."""


def written(path):
    """Return the texts a module writes itself, without docstrings and errors."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    skipped = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) or (
            isinstance(node, ast.Call) and getattr(node.func, "id", "") == "SoiltrendError"
        ):
            skipped |= {id(part) for part in ast.walk(node)}
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in skipped
    ]


@pytest.mark.parametrize("path", sorted(ROOM.glob("*.py")), ids=lambda path: path.stem)
def test_no_sentence_stands_outside_the_phrases(path):
    """Every sentence of the room is read from the file of its language."""
    assert [text for text in written(path) if SENTENCE.search(text)] == []


def test_every_key_asked_for_is_there():
    """What the code asks for, here, on pages and on charts, is in the file."""
    text = "".join(path.read_text(encoding="utf-8") for path in ROOM.glob("*.py"))
    text += "".join(
        path.read_text(encoding="utf-8") for path in (ROOM.parent / "handouts").iterdir() if path.is_file()
    )
    text += "".join(path.read_text(encoding="utf-8") for path in (ROOM.parent / "charts").glob("*.py"))
    keys = set(phrases.load("en"))
    asked = set(re.findall(r"\"([a-z]+(?:\.[a-z_]+)+)\"", text))
    asked = {key for key in asked if not key.endswith((".css", ".html", ".js"))}
    sections = {key.partition(".")[0] for key in keys}
    counted = {key.rpartition(".")[0] for key in keys if key.endswith((".one", ".many"))}
    unknown = {key for key in asked if key.partition(".")[0] in sections} - keys - counted
    assert {key for key in unknown if not any(known.startswith(key + ".") for known in keys)} == set()


@pytest.fixture
def dutch(tmp_path, monkeypatch):
    """Return a function that offers a second language, its file made from the first by a change."""

    def make(change):
        for path in ROOM.glob("*.toml"):
            (tmp_path / path.name).write_text(path.read_text(encoding="utf-8"), encoding="utf-8")
        (tmp_path / "nl.toml").write_text(
            change((ROOM / "en.toml").read_text(encoding="utf-8")), encoding="utf-8"
        )
        monkeypatch.setattr(phrases, "files", lambda _: tmp_path)
        phrases.load.cache_clear()

    yield make
    phrases.load.cache_clear()


def test_another_language_is_another_file(dutch, change):
    """With a file of phrases the words are spoken in it; nothing else is needed."""
    dutch(lambda text: text.replace('rose = "rose"', 'rose = "steeg"').replace('"in {bed}"', '"op {bed}"'))
    head = story.headline(change, bed="East", voice=Voice(language="nl"))
    assert head.startswith("pH steeg and potassium fell op East")
    assert story.headline(change, bed="East").startswith("pH rose")


@pytest.mark.parametrize(
    ("change_of", "says"),
    [
        (lambda text: text.replace('rose = "rose"\n', "", 1), "lacks 1 phrases: verb.rose"),
        (lambda text: text.replace('"in {bed}"', '"in {plot}"'), "misfills 1 phrases: where.bed"),
    ],
)
def test_a_language_that_is_not_whole_is_refused(dutch, change_of, says):
    """A missing phrase or a slot that is never filled is named with its file."""
    dutch(change_of)
    with pytest.raises(SoiltrendError, match=says):
        Voice(language="nl")


@pytest.mark.parametrize(
    ("voice", "says"),
    [({"language": "xx"}, "no phrases for the language 'xx'"), ({"units": "furlong"}, "furlong")],
)
def test_an_unknown_voice_is_refused(voice, says):
    with pytest.raises(SoiltrendError, match=says):
        Voice(**voice)


@pytest.mark.parametrize(
    ("unit", "one"),
    [
        ("cm", 1 / 2.54),
        ("kg", 1 / 0.45359237),
        ("g", 16 / 453.59237),
        ("L", 1 / 3.785411784),
        ("mg/kg", 1.0),
        ("cmol/kg", 1.0),
        ("g/m2", 92.90304 / 453.59237),
        ("kg/ha", 0.40468564224 / 0.45359237),
    ],
)
def test_us_units_are_those_of_the_standard(unit, one):
    """One of each in US units: inch, pound, ounce, gallon, square foot and acre of NIST SP 811."""
    assert factor_of(unit, voice=Voice(units="US")) == pytest.approx(one, rel=1e-6)


def test_us_words_say_ppm_and_inches(change):
    """Same numbers, the units of the trade there."""
    words = story.change_words(change, bed="East", voice=Voice(units="US"))
    assert "200 ppm to 90.0 ppm" in words.description
    assert "0-5.9 in" in words.subtitle
    assert "mg/kg" not in repr(words)
    assert amount(np.nan, "mg/kg") == "an unknown amount"


def test_speaking_sets_what_is_said_from_here_on(change):
    """Units set once reach the words of every chart drawn afterwards, and a voice given goes before."""
    try:
        story.speak(units="US")
        words = story.change_words(change, bed="East")
        assert "200 ppm" in words.description
        assert "200 mg/kg" in story.change_words(change, bed="East", voice=Voice(units="metric")).description
        with pytest.raises(SoiltrendError, match="furlong"):
            story.speak(units="furlong")
        assert "200 ppm" in story.change_words(change, bed="East").description
    finally:
        story.speak()
    assert "200 mg/kg" in story.change_words(change, bed="East").description


def test_slow_measures_are_those_of_the_table():
    """Organic matter, carbon, nitrogen and exchange capacity wait, as tables/margins.csv says."""
    assert set(patience()) == {"OM", "TOC", "total C", "total N", "CEC"}


@pytest.fixture
def every(kept, two_springs):
    """Return words of every kind, by name."""
    if "words" not in kept:
        kept["words"] = every_words(two_springs)
    return kept["words"]


LONG = "The long bed behind the apple store by the northern wall of the lower orchard, second terrace"


def every_words(two_springs):
    """Return words of every kind, by name."""
    change = compare(two_springs(MOVED, beds=("East", LONG)), before="spring 2022", after="spring 2024")
    seasons = tuple(f"spring {year}" for year in range(2019, 2025))
    garden = simulate_garden(seed=1, design=Design(beds=2, seasons=seasons), change={"K": 1.0})
    rows = {
        "bed": "East",
        "nutrient": "Ca",
        "period": "spring 2022 to spring 2024",
        "unit": "g/m2",
        "said": "partly",
        "method": "Mehlich-3",
    } | MADE
    spans = {
        f"{name}{end}": value
        for name, value in (("put_in", 120.0), ("taken_out", 2.0), ("expected", 100.0), ("observed", 60.0))
        for end in ("", "_low", "_high")
    }
    source = {name: rows[name] for name in ("bed", "nutrient", "period", "unit")}
    source |= {"material": "gypsum", "put_in": 120.0, "by_volume": True, "measured": False}
    budget = SimpleNamespace(table=pd.DataFrame([rows | spans]), sources=pd.DataFrame([source]))
    expected = {
        "bed": "East",
        "analyte": "Ca",
        "unit": "mg/kg",
        "now": 900.0,
        "aim": 1200.0,
        "after": 1150.0,
        "low": 900.0,
        "high": 1400.0,
        "method": "Mehlich-3",
        "test": "spring 2028",
    } | MADE
    dose = {"bed": "East", "material": "gypsum", "date": "2027-03-01", "grams": 600.0, "kitchen": "2 cups"}
    plan = SimpleNamespace(
        hold=pd.DataFrame([{"bed": "East", "what": "P", "why": "above the band", "about": "P"}]),
        doses=pd.DataFrame([dose]),
        expected=pd.DataFrame([expected]),
        cautions=pd.DataFrame([{"material": "gypsum", "caution": "wear a mask"}]),
    )
    blend = SimpleNamespace(
        met=True,
        why="",
        table=pd.DataFrame(
            {
                "material": ["leaves", "grass"],
                "kg": [10.0, 12.0],
                "dry_kg": [6.0, 3.0],
                "C_kg": [2.8, 1.3],
                "N_kg": [0.06, 0.1],
                "CN": [47.0, 13.0],
            }
        ),
    )
    season = SimpleNamespace(
        table=pd.DataFrame(
            {"month": ["March", "June"], "low": [-2.0, 0.1], "likely": [-1.0, 1.0], "high": [-0.2, 2.0]}
        )
    )
    shares = two_springs(
        {"Ca saturation": (60, 70), "K saturation": (4, 3), "Ca": (900, 1000), "CEC": (8, 9)}
    )
    return {
        "change": story.change_words(change, bed="East"),
        "long": story.change_words(change, bed=LONG),
        "garden": story.change_words(change, bed=GARDEN),
        "beds": story.beds_words(change, analyte="pH"),
        "slow": story.beds_words(change, analyte="OM"),
        "trend": story.trend_words(trend(garden, noise=noise_model()), analyte="K"),
        "drift": story.drift_words(drift(garden), bed="bed 1"),
        "budget": story.budget_words(budget, nutrient="Ca", bed="East"),
        "budgets": story.budget_words(budget, nutrient="Ca"),
        "plan": story.plan_words(plan, bed="East"),
        "blend": story.blend_words(blend),
        "season": story.season_words(season),
        "saturation": story.saturation_words(shares, bed="East", season="spring 2024"),
        "luck": story.luck_words(luck(change, draws=100)),
    }


def test_words_of_every_kind_are_whole(every):
    """All parts are there, alt texts fit, no slot is left open, no cause is claimed outside a refusal."""
    for kind, words in every.items():
        for part in ("headline", "subtitle", "caption", "alt", "description", "paragraph", "note"):
            text = getattr(words, part)
            assert text, f"{kind}: {part}"
            assert not re.search(r"[{}]|\bnan\b|  (?!\u25cf)|\.\.", text), f"{kind}: {text}"
            assert "because of" not in text, f"{kind}: {part}"
        assert 40 < len(words.alt) <= 150, kind
        assert words.refusals, kind
        assert len(set(words.refusals)) == len(words.refusals), kind
        assert len(words.headline.split()) <= 18 + (kind == "long") * 20, f"{kind}: {words.headline}"


TOLD = ("change", "beds", "trend", "drift", "budget", "budgets", "plan", "saturation")


def test_the_words_of_one_measure_name_its_method_where_it_is_known(two_springs):
    """An amount is one of an extractant: the newsletter and the long description say of which."""
    results = two_springs({"K": (200, 90)}, beds=("East", "West"))
    for method, says in (("Olsen", ", by Olsen"), ("", "")):
        rows = results.assign(method=method)
        change = compare(rows, before="spring 2022", after="spring 2024")
        seasons = tuple(f"spring {year}" for year in range(2019, 2025))
        garden = simulate_garden(seed=1, design=Design(beds=2, seasons=seasons)).assign(method=method)
        moved = story.trend_words(trend(garden, noise=noise_model()), analyte="K")
        for words in (story.beds_words(change, analyte="K"), moved):
            assert f"potassium{says}" in words.description
            assert words.paragraph.count(", by ") == (1 if says else 0)
            assert says in words.paragraph
            assert len(words.alt) <= 150
        assert says in moved.alt


@pytest.mark.parametrize("kind", TOLD)
def test_every_subtitle_says_when_by_whom_and_how_deep(every, kind):
    """Season or year, laboratory and layer; the method where the axis does not say it."""
    subtitle = every[kind].subtitle
    assert re.search(r"\b20\d\d\b", subtitle)
    assert re.search("Hollin Bench|invented", subtitle)
    assert "0-15 cm" in subtitle
    if kind in TOLD[3:]:
        assert re.search("Mehlich-3|method not stated", subtitle)


@pytest.mark.parametrize(
    ("kind", "part", "says"),
    [
        ("change", "headline", "pH rose and potassium fell in East: 2 of 5 measures compared"),
        ("change", "description", "potassium fell, 200 mg/kg to 90.0 mg/kg"),
        ("change", "paragraph", "pH rose from 6.00 to 7.10 and potassium fell from 200 mg/kg to 90.0 mg/kg"),
        ("change", "note", "one composite sample a bed each time shows only large changes"),
        ("garden", "subtitle", "n = 2 in all each time"),
        ("slow", "paragraph", "needs 3 years or more"),
        ("budget", "headline", "Calcium in East: 120 g/m2 went in; the test moved less far"),
        ("budget", "paragraph", "gypsum 120 g/m2"),
        ("plan", "headline", "In East, first hold back phosphorus; then add gypsum in 1 dose"),
        ("plan", "note", "wear a mask"),
        ("blend", "headline", "leaves and grass comes to a C:N of about 26"),
        ("season", "headline", "ties nitrogen up in March and gives it back in June"),
        (
            "saturation",
            "headline",
            "Calcium makes up 70 % of summed exchange in East, and measures 1000 mg/kg",
        ),
        ("saturation", "caption", "Shares add up to 100"),
        ("luck", "headline", "luck"),
    ],
)
def test_words_say_what_the_tables_hold(every, kind, part, says):
    """Numbers and names of each table come out in the words."""
    assert says in getattr(every[kind], part)


def test_refusals_give_their_reason(two_springs):
    """Slow, share, doubtful and unclear are told apart; what cannot be compared is named."""
    change = compare(
        two_springs(MOVED | {"Ca saturation": (60, 85)}), before="spring 2022", after="spring 2024"
    )
    refused = story.change_words(change, bed="East").refusals
    assert any(text.startswith("“Organic matter rose”: it is slow and needs 3 years") for text in refused)
    assert any(text.startswith("“Calcium saturation rose”: it is a share") for text in refused)
    assert any("unclear is not the same as unchanged" in text for text in refused)
    assert refused[-1].startswith("“because of what was done”")


def test_a_measure_whose_records_disagree_is_not_named(tidy):
    """By one method it rose, by another it fell: neither is a headline, and it is said why."""
    days = ("2022-04-04", "2024-04-08")
    up = tidy([("East", day, "P", value) for day, value in zip(days, (20, 90), strict=True)], method="Olsen")
    down = tidy(
        [("East", day, "P", value) for day, value in zip(days, (90, 20), strict=True)], method="Mehlich-3"
    )
    change = compare(pd.concat([up, down]), before="spring 2022", after="spring 2024")
    assert story.headline(change, bed="East").startswith("No sure change in East")
    assert any("disagree" in text for text in story.change_words(change, bed="East").refusals)


def test_unlike_seasons_are_said(tidy):
    """Spring against autumn: the speaker says that part of it is the season."""
    rows = [("East", day, "K", value) for day, value in (("2023-04-04", 90), ("2024-10-08", 220))]
    change = compare(tidy(rows), before="spring 2023", after="autumn 2024")
    assert "part of the change is the season" in story.change_words(change, bed="East").note


def test_words_show_themselves(change):
    """As text a paragraph a part; as HTML escaped."""
    words = story.change_words(change, bed="East")
    assert repr(words).startswith(f"Headline: {words.headline}")
    assert "For a newsletter: We tested" in repr(words)
    shown = story.Words("<b>", "s", "c", "a", refusals=("no <i>",))._repr_html_()
    assert "&lt;b&gt;" in shown
    assert "no &lt;i&gt;" in shown
    assert "<b>" not in shown


def test_the_bed_to_tell_is_the_one_of_most_claims(two_springs, tidy):
    """Two claims go before one; a bed asked for goes before both; without claims it is the garden."""
    many = two_springs({"pH": (6.0, 7.2), "K": (200, 80), "P": (40, 41)}, beds=("North",))
    one = two_springs({"pH": (6.0, 7.2), "K": (200, 205), "P": (40, 41)}, beds=("East",))
    change = compare(pd.concat([one, many]), before="spring 2022", after="spring 2024")
    assert story.bed_to_tell(change) == "North"
    assert story.bed_to_tell(change, asked="East") == "East"
    still = compare(two_springs({"P": (40, 41)}), before="spring 2022", after="spring 2024")
    assert story.bed_to_tell(still) == GARDEN


@pytest.fixture
def lucky(kept, two_springs):
    """Return a comparison in which calcium left its band in one bed of two, and nothing stands."""
    if "lucky" not in kept:
        still = {f"{name}": (50, 50.5) for name in ("P", "K", "Mg", "S", "Zn", "Mn", "Fe", "Cu")}
        beds = [
            two_springs(still | {"Ca": ends}, beds=(bed,))
            for bed, ends in (("East", (1500, 2050)), ("West", (1500, 1510)))
        ]
        kept["lucky"] = compare(pd.concat(beds), before="spring 2022", after="spring 2024")
    return kept["lucky"]


def test_what_left_its_band_by_luck_is_counted_and_not_denied(lucky):
    """A bed's bar is clear and its verdict "rose": no sentence says that nothing moved beyond noise."""
    row = lucky.table.query("analyte == 'Ca' and bed == 'East'").iloc[0]
    assert row["verdict"] == "rose"
    assert row["q"] > 0.05
    bed = story.change_words(lucky, bed="East")
    assert bed.headline == "No sure change in East: 1 of 9 measures left its band, as luck can among so many"
    assert "1 of 9 measures moved by more than sampling" in bed.paragraph
    assert "and it is not sure" in bed.paragraph
    beds = story.beds_words(lucky, analyte="Ca")
    assert beds.headline == "Calcium: no sure change in any of 2 beds; in 1 it left its band, as luck can"
    assert "In 1 of the 2 beds that can be compared it moved by more than" in beds.paragraph
    for text in (bed.paragraph, beds.paragraph):
        assert "None of" not in text
        assert "In none" not in text
    assert "In none of the 2 beds" in story.beds_words(lucky, analyte="P").paragraph
    assert "None of the 9 measures moved" in story.change_words(lucky, bed="West").paragraph


def test_a_bar_that_is_clear_is_not_said_to_be_sure(lucky):
    """The speaker says what the bar shows of one bed, and that luck among many is another question."""
    note = story.beds_words(lucky, analyte="Ca").note
    assert "a change is sure only where" not in note
    assert "the headline says whether that is more than luck" in note


def test_what_stands_and_is_not_named_is_not_put_down_to_luck(two_springs):
    """A share, and a measure whose years have not come, left their bands and are counted as such."""
    moved = {"Ca saturation": (50, 85), "OM": (3.0, 6.5), "P": (40, 41)}
    change = compare(two_springs(moved), before="spring 2022", after="spring 2024")
    words = story.change_words(change, bed="East")
    assert words.headline == "No sure change in East to name: 2 of 3 measures left their band"
    assert "1 share of a whole left its band" in words.paragraph
    assert "1 slow measure left its band" in words.paragraph
    assert "luck" not in words.paragraph
    beds = story.beds_words(change, analyte="Ca saturation")
    assert "no sure change to name in any of 2 beds; in 2 it left its band" in beds.headline
    assert "it is a share of a whole" in beds.paragraph


@pytest.mark.parametrize(
    ("measures", "seen", "stand", "head"),
    [
        (1, 0, 0, "The one measure did not move; luck alone would show about"),
        (1, 1, 0, "We saw 1 of 1 measure move; luck"),
        (9, 1, 1, "We saw 1 of 9 measures move, luck shows 0.40; 1 stands firm"),
        (9, 3, 2, "We saw 3 of 9 measures move, luck shows 0.40; 2 stand firm"),
    ],
)
def test_words_of_luck_count_one_as_one(measures, seen, stand, head):
    """One measure moved, one stands."""
    row = {"measures": measures, "seen": seen, "seen_adjusted": stand}
    table = pd.DataFrame([row | {"bed": ALL, "expected_by_luck": 0.4}])
    words = story.luck_words(SimpleNamespace(table=table, draws=100))
    assert words.headline.startswith(head)
    assert not any("1 measures" in text for _, text in words.parts())


def test_one_bed_and_one_measure_are_spoken_of_as_one(two_springs):
    """No "1 beds", no "1 measures", no "any of 1"."""
    results = two_springs({"P": (40, 41), "K": (200, 60)}, beds=("Only",))
    change = compare(results, before="spring 2022", after="spring 2024")
    words = [story.beds_words(change, analyte=name) for name in ("P", "K")]
    words += [story.change_words(change, bed="Only")]
    assert words[0].headline.startswith("Phosphorus: no sure change in the one bed compared")
    assert words[1].headline.startswith("Potassium fell in the one bed compared")
    assert "In the one bed that can be compared it did not move" in words[0].paragraph
    assert any("1 bed is unclear" in text for text in words[0].refusals)
    assert any("1 measure is unclear" in text for text in words[2].refusals)
    assert "For 1 measure the answer is unclear" in words[2].paragraph
    for text in (text for each in words for _, text in each.parts()):
        assert not re.search(r"\b1 (soil )?(beds|measures)|\b(any|none) of (the )?1 ", text)


@pytest.mark.parametrize("length", [8, 40, 80, 120])
def test_the_alt_text_keeps_the_kind_of_picture_however_long_a_name_is(two_springs, length):
    """What kind it is stands first, what was found after it, in as many characters as readers take."""
    bed = ("The long bed beneath the pear tree " * 4)[:length].strip()
    change = compare(two_springs(MOVED, beds=(bed,)), before="spring 2022", after="spring 2024")
    told = story.change_words(change, bed=bed).alt
    assert told.startswith("Dot chart of 5 soil measures")
    assert "pH rose and potassium fell" in told
    assert len(told) <= ALT


def test_the_only_bed_there_is_speaks_for_the_garden(two_springs, tidy):
    """One bed, or one of which something can be compared: it is told of and drawn, with its numbers."""
    one = two_springs({"pH": (6.0, 6.1), "K": (200, 205)}, beds=("Only",))
    for results in (one, pd.concat([one, tidy([("Gap", "2024-04-08", "pH", 6.0)])])):
        alone = compare(results, before="spring 2022", after="spring 2024")
        assert story.bed_to_tell(alone) == "Only"
        assert story.headlines(alone).table["bed"].iloc[0] == "Only"
        chart = chart_change(alone)
        assert chart.words.headline == story.headline(alone, bed="Only")
        assert set(chart.data["bed"]) == {"Only"}
    two = compare(two_springs({"pH": (6.0, 6.1)}), before="spring 2022", after="spring 2024")
    assert set(chart_change(two).data["bed"]) == {GARDEN}


def test_a_newsletter_gives_the_reason_that_holds_where_nothing_was_compared(two_springs, tidy):
    """No measure is counted where none was compared, and the rows' own reasons stand there."""
    one = two_springs({"pH": (6.0, 6.1)}, beds=("Only",))
    late = tidy([("Gap", "2024-04-08", "pH", 6.0), ("Gap", "2024-04-08", "K", 90)])
    change = compare(pd.concat([one, late]), before="spring 2022", after="spring 2024")
    paragraph = story.change_words(change, bed="Gap").paragraph
    assert paragraph == (
        "Between spring 2022 and spring 2024 nothing can be compared in Gap: no result in spring 2022."
    )
    assert "only one bed can be compared" in story.change_words(change, bed=GARDEN).paragraph
    assert story.beds_words(change, analyte="K").paragraph == (
        "Of potassium no bed can be compared between spring 2022 and spring 2024: no result in spring 2022."
    )
    mixed = tidy([("Only", "2022-04-04", "Zn", 3.0), ("Only", "2024-04-08", "Cu", 3.0)])
    part = compare(pd.concat([one, mixed]), before="spring 2022", after="spring 2024")
    assert (
        "2 could not be compared: no result in spring 2024 (zinc); no result in spring 2022 (copper)."
        in story.change_words(part, bed="Only").paragraph
    )


def test_what_has_nothing_to_show_is_a_word_within_a_sentence():
    """A capital stands at the start of a sentence alone, and a reason given stands in every part."""
    whole = story.nothing_words("")
    assert whole.paragraph.startswith("There is nothing to report of the garden yet")
    assert "The garden" not in whole.description + whole.alt
    told = story.nothing_words("boron", why="it was not asked for")
    assert all("it was not asked for" in text.replace("It", "it") for _, text in told.parts()[1:])
    assert "two tests" not in repr(told)


def test_beds_in_brief_name_each_bed_once(two_springs, tidy):
    """Claims in a sentence each, the rest in one, what cannot be compared in another."""
    told = two_springs({"pH": (6.0, 7.2)}, beds=("North",))
    still = two_springs({"pH": (6.0, 6.1)}, beds=("East", "West"))
    alone = tidy([("Gap", "2024-04-08", "pH", 6.0)])
    change = compare(pd.concat([told, still, alone]), before="spring 2022", after="spring 2024")
    brief = story.in_brief(change)
    assert brief[0].startswith("pH rose in North")
    assert brief[1:] == ["No sure change in East and West", "Nothing can be compared in Gap"]


def test_words_of_a_trend_count_and_refuse():
    """One bed rises for certain, one moves as luck can, one has too few tests: each is said as it is."""
    rows = {
        "analyte": "K",
        "method": "Mehlich-3",
        "unit": "mg/kg",
        "lab": "Hollin Bench",
        "top_cm": 0.0,
        "bottom_cm": 15.0,
        "first": pd.Timestamp("2019-04-01"),
        "last": pd.Timestamp("2024-04-01"),
        "years": 5.0,
        "n": 6,
        "slope_per_year": 9.0,
        "percent_per_year": 6.0,
    }
    table = pd.DataFrame(
        [
            rows | {"bed": "East", "verdict": "rising", "q": 0.01},
            rows | {"bed": "West", "verdict": "rising", "q": 0.3},
            rows | {"bed": "North", "verdict": "too few", "q": np.nan, "n": 2, "slope_per_year": np.nan},
        ]
    )
    words = story.trend_words(SimpleNamespace(table=table, confidence=0.95), analyte="K")
    assert words.headline == "Potassium is rising in 1 of 2 beds, 2019 to 2024"
    assert words.refusals[0].startswith("“rising in West”: among all the measures")
    assert words.refusals[1].startswith("A trend of North: too few tests")
    assert "East: rising, +6.0 % a year, 6 tests" in words.description
    assert "West: perhaps rising, +6.0 % a year, 6 tests" in words.description
    assert "It is rising in 1 of 2 beds, and this trend stands" in words.paragraph
    alone = SimpleNamespace(table=table.iloc[[1]].assign(n=1), confidence=0.95)
    one = story.trend_words(alone, analyte="K")
    assert one.headline.startswith("Potassium: no sure trend in the one bed that has tests enough")
    assert "up to 1 test a bed" in one.subtitle
    assert "tested potassium once a bed" in one.paragraph
    assert "in 1 bed" in one.alt
    words = story.trend_words(SimpleNamespace(table=table, confidence=0.6), analyte="K")
    assert "and these trends stand" in words.paragraph
    assert "West: rising, +6.0 % a year, 6 tests" in words.description


def going(amounts, *, analyte, years):
    """Return the words of a measure's trend, and all headlines, of four beds whose amounts go as told."""
    days = pd.to_datetime([f"{year}-{day}" for year in years for day in ("04-08", "10-08")])
    names = frames.season(pd.Series(days))
    rows = [
        {"bed": bed, "sampled": day, "season": names[at], "lab": "Hollin Bench", "top_cm": 0.0,
         "bottom_cm": 15.0, "analyte": name, "unit": "%" if name == "OM" else "mg/kg",
         "method": "LOI" if name == "OM" else "Mehlich-3",
         "value": start * grows ** (at / 2) * (1 + 0.01 * (-1) ** (at // 2))}
        for bed in "ABCD" for at, day in enumerate(days) for name, (start, grows) in amounts.items()
    ]  # fmt: skip
    acid = [row | {"analyte": "acidity", "unit": "cmol/kg", "method": "", "value": 0.5}
            for row in rows if row["analyte"] == "K"]  # fmt: skip
    found = trend(exchange(frames.results([*rows, *acid])))
    heads = story.trend_headlines(found).table.set_index("analyte")["beds"]
    return story.trend_words(found, analyte=analyte), heads


def test_a_share_on_its_way_has_its_amounts_beside_it():
    """Calcium alone rises, so the share of potassium falls; the headline says what potassium itself did."""
    amounts = {"Ca": (1000.0, 1.15), "Mg": (120.0, 1.0), "K": (150.0, 1.0)}
    words, heads = going(amounts, analyte="K saturation", years=range(2015, 2024))
    told = "potassium itself has no sure trend"
    assert words.headline == f"Potassium saturation is falling in 4 of 4 beds; {told}"
    assert f"{told[:1].upper()}{told[1:]}." in words.paragraph
    assert told in words.alt
    assert heads["Ca saturation"].endswith("; calcium itself is rising in 4")
    assert heads["Ca"].startswith("Calcium is rising in 4 of 4 beds")
    assert "itself" not in heads["Ca"]


@pytest.mark.parametrize(("years", "early"), [((2022, 2023, 2024), True), (range(2020, 2025), False)])
def test_organic_matter_is_no_news_before_its_years(years, early):
    """Three years at the least (Oregon State University EM 9251), however surely the tests rise."""
    words, heads = going({"OM": (4.0, 1.2), "K": (150.0, 1.0)}, analyte="OM", years=years)
    soon = "too soon to say, it needs 3 years or more"
    assert (soon in words.headline) == (soon in heads["OM"]) == early
    assert ("rising in 4" in words.headline) != early
    assert ("“rising in A”: it is slow and needs 3 years or more." in words.refusals) == early
    assert ("It is too soon to say" in words.paragraph) == early
    assert ("A: perhaps rising" in words.description) == early


@pytest.mark.parametrize(
    ("said", "head"),
    [
        ("artefact", "is an artefact: not read as a change"),
        ("within noise", "moved by no more than noise can move it"),
        ("as organic matter allows", "by no more than organic matter allows"),
        ("something new", "Summed exchange capacity in East: something new"),
    ],
)
def test_words_of_a_capacity_follow_what_was_found(said, head):
    """The headline is that of the finding; an artefact is refused as a gain."""
    place = {"bed": "East", "lab": "Hollin Bench", "top_cm": 0.0, "bottom_cm": 15.0}
    why = SimpleNamespace(
        table=pd.DataFrame(
            [place | {"part": "Ca", "method": "summation", "change": 1.0, "low": 0.2, "high": 1.9}]
        ),
        headlines=pd.DataFrame([place | {"said": said, "sentence": "As it stands"}]),
        before="spring 2022",
        after="spring 2024",
        confidence=0.95,
    )
    words = story.why_words(why, bed="East")
    assert head in words.headline
    assert "; Hollin Bench; 0-15 cm; summation; " in words.subtitle
    assert "Ca 1.0 (0.20 to 1.9) cmol/kg" in words.description
    assert any("holds more than before" in text for text in words.refusals) == (said == "artefact")


def test_an_account_names_the_check_that_was_taken_off():
    """Beside a bed left as it was the sentence says so, and one may say how far it differs."""
    row = {
        "bed": "East",
        "nutrient": "Ca",
        "period": "p",
        "unit": "g/m2",
        "said": "showed",
        "method": "Mehlich-3",
        "check": "Gatepost",
    } | MADE
    row |= {
        f"{name}{end}": 5.0
        for name in ("put_in", "taken_out", "expected", "observed")
        for end in ("", "_low", "_high")
    }
    sources = pd.DataFrame(columns=SOURCES)
    words = story.budget_words(
        SimpleNamespace(table=pd.DataFrame([row]), sources=sources), nutrient="Ca", bed="East"
    )
    assert words.headline == "Calcium in East: 5.0 g/m2 went in; beside Gatepost the test moved about as far"
    assert "beside Gatepost, left as it was" in words.refusals[0]


def account_of(said, put_in):
    """Return an account of potassium in as many beds."""
    names = ("taken_out", "expected", "observed")
    same = {"nutrient": "K", "period": "p", "unit": "g/m2", "method": "Olsen", "check": ""} | MADE
    same |= {f"{name}{end}": 5.0 for name in names for end in ("", "_low", "_high")}
    fed = [dict.fromkeys(("put_in", "put_in_low", "put_in_high"), grams) for grams in put_in]
    rows = [{"bed": f"bed {at}", "said": word} | same | fed[at] for at, word in enumerate(said)]
    sources = pd.DataFrame(columns=SOURCES)
    return SimpleNamespace(table=pd.DataFrame(rows), sources=sources)


def test_an_account_of_all_beds_counts_what_it_says_of_those_that_were_fed():
    """Every verdict has its count, and they add up; a bed that got nothing, or nobody knows, is in none."""
    said = ["showed", "partly", "not seen", "not seen", "more than expected", "the other way", "cannot say"]
    words = story.budget_words(
        account_of([*said, "not tested", "showed", "showed"], [5.0] * 8 + [0.0, np.nan]), nutrient="K"
    )
    assert words.headline == (
        "Potassium was put on 8 of 10 beds in the days accounted for: it shows in 1; less than all of it "
        "shows in 1; the test did not move with it in 2; more than all of it shows in 1; the test moved the "
        "other way in 1; in 2 nobody can tell"
    )
    none = story.budget_words(account_of(["not tested"] * 2, [0.0, 0.0]), nutrient="K")
    end = "in the days accounted for"
    assert none.headline == f"Potassium: nothing that holds it was put on any of 2 beds {end}"
    tested = story.budget_words(account_of(["showed", "partly"], [5.0, 5.0]), nutrient="K")
    assert tested.headline.startswith("Potassium was put on 2 of 2 beds between their tests: ")
    assert "2 beds between their tests" in tested.caption


def test_a_share_too_wide_to_be_one_is_not_told():
    """An interval of 570 points about -200 % is no share; one of 60 points about 50 % is."""
    account = account_of(["the other way", "partly"], [5.0, 5.0])
    table = account.table.assign(recovery=[-1.97, 0.5], low=[-6.08, 0.2], high=[-0.37, 0.8])
    told = story.recovery_words(SimpleNamespace(table=table, sources=account.sources), nutrient="K")
    assert "bed 0: no share, the test moved the other way" in told.description
    assert "bed 1: 50 % (20 to 80 %)" in told.description


def test_a_plan_that_adds_nothing_says_so():
    """Holds alone, or nothing at all."""
    none = pd.DataFrame(columns=["bed", "material", "date", "grams", "kitchen", "caution"])
    lines = pd.DataFrame(columns=["bed", "analyte", "unit", "now", "aim", "after", "low", "high"])
    hold = pd.DataFrame({"bed": "East", "what": ["lime", "ash"], "why": "pH is high", "about": "pH"})
    plan = SimpleNamespace(hold=hold, doses=none, expected=lines, cautions=none)
    words = story.plan_words(plan, bed="East")
    assert words.headline == "In East, hold back lime and ash; these tests call for no dose"
    assert "lime and ash (pH is high)" in words.description
    assert "lime and ash (a matter of pH)" in words.paragraph
    assert story.plan_words(plan, bed="West").headline.startswith("In West, nothing needs adding")


def test_a_ratio_in_three_guises_is_counted_once():
    """K:Mg by charge, by mass and upside down: the flagged one counts; what has no mark is told."""
    names = ["K:Mg (charge)", "K:Mg (mass)", "Mg:K (charge)", "Ca:Mg (charge)", "P:Zn (mass)"]
    table = pd.DataFrame({"bed": "East", "ratio": names, "now": 2.0, "low_edge": 1.0, "high_edge": 3.0,
                          "n": 6, "flag": ["steady", "shifted", "shifted", "outside", "steady"], "firm": True,
                          "last": pd.Timestamp(2026, 4, 9), "lab": "Hill", "method": "Olsen", "top_cm": 0.0,
                          "bottom_cm": 15.0})  # fmt: skip
    closed = story.drift_words(SimpleNamespace(table=table), bed="East")
    assert closed.headline == "Ca:Mg (charge) is outside its band; K:Mg (mass) has shifted in East"
    assert "counted once" in closed.caption
    assert "no mark" not in closed.caption
    many = table.assign(flag=["shifted"] * 3 + ["outside", "heading out"], high_edge=np.inf, bed=LONG)
    words = story.drift_words(SimpleNamespace(table=many), bed=LONG)
    assert words.headline.startswith("3 of 3 different ratios and shares")
    assert "no mark" in words.caption
    still = story.drift_words(SimpleNamespace(table=table.assign(flag="steady")), bed="East")
    assert "all 5 ratios" in still.headline
    plain = story.drift_words(SimpleNamespace(table=table.iloc[3:]), bed="East")
    assert "counted once" not in plain.caption


def test_flags_are_those_of_the_laboratory_tested_last():
    """What drifted by a laboratory left years ago is no news."""
    table = pd.DataFrame({"bed": "East", "ratio": "K:Mg (charge)", "lab": ["Old", "New"], "n": [9, 4],
                          "now": [3.0, 1.0], "flag": ["outside", "steady"], "firm": True, "why": "",
                          "q": 0.01, "top_cm": 0.0, "bottom_cm": 15.0,
                          "last": pd.to_datetime(["2021-10-10", "2026-10-10"])})  # fmt: skip
    assert story.flags(SimpleNamespace(table=table)).table.empty
    shifted = table.assign(flag=["steady", "shifted"])
    assert story.flags(SimpleNamespace(table=shifted)).table["flag"].tolist() == ["shifted"]


def test_the_mean_of_the_garden_is_told(two_springs):
    """Potassium is compared on logarithms: all beds are a geometric mean; of one bed nothing is said."""
    both = compare(two_springs(MOVED, beds=("East", "West")), before="spring 2022", after="spring 2024")
    assert "a geometric mean" in story.change_words(both, bed=GARDEN).caption
    assert "a geometric mean" in story.beds_words(both, analyte="K").caption
    assert "geometric" not in story.beds_words(both, analyte="pH").caption
    assert "geometric" not in story.change_words(both, bed="East").caption


def test_shares_bear_the_warning_of_their_sum(two_springs):
    """Where lime may have dissolved into the sum, every part of the words says so."""
    results = two_springs({"Ca saturation": (90, 92), "Ca": (3000, 3300), "CEC": (18, 19)})
    results["note"] = results["note"].mask(
        results["analyte"] == "Ca saturation", "may be inflated: pH 7.6 is high"
    )
    words = story.saturation_words(results, bed="East", season="spring 2024")
    for part in (words.caption, words.paragraph, words.note, words.description):
        assert "May be inflated: pH 7.6 is high." in part
    with pytest.raises(SoiltrendError, match="no bed 'Elsewhere'"):
        story.saturation_words(results, bed="Elsewhere", season="spring 2024")


def test_shares_of_two_seasons_name_both(two_springs):
    """Beside an earlier season, its name and its shares stand in the words; alone, nothing speaks of it."""
    results = two_springs({"Ca saturation": (61, 72), "Ca": (2000, 3300), "CEC": (18, 19)})
    both = story.saturation_words(results, bed="East", season="spring 2024", before="spring 2022")
    for part in (both.subtitle, both.alt, both.description, both.paragraph):
        assert "spring 2022" in part
        assert "spring 2024" in part
    assert "In spring 2022 they were: calcium 61 %, 2000 mg/kg" in both.paragraph
    assert not any("one date" in words for words in both.refusals)
    alone = story.saturation_words(results, bed="East", season="spring 2024")
    assert "2022" not in " ".join(text for _, text in alone.parts())
    assert any("one date" in words for words in alone.refusals)


@pytest.mark.parametrize(
    ("slope", "said"), [(100.0, "+100"), (-1240.0, "\u22121200"), (0.9, "+0.9"), (0.0449, "+0.045")]
)
def test_a_slope_bears_no_exponent(slope, said):
    """Two digits and as many noughts as it takes, where a trend has no rate in per cent."""
    row = {
        "analyte": "CEC",
        "verdict": "rising",
        "years": 6.0,
        "percent_per_year": np.nan,
        "unit": "cmol/kg",
        "slope_per_year": slope,
        "q": 0,
    }
    assert story.trend_said(row, confidence=0.95) == f"rising, {said} cmol/kg a year"


@pytest.mark.parametrize(
    ("numbers", "said"),
    [
        ({"slope_per_year": 4.2e-6, "low": -0.031, "high": 0.031}, "0.000"),
        ({"slope_per_year": -4.2e-6, "low": -0.31, "high": 0.31}, "0.00"),
        ({"slope_per_year": -0.9, "low": -2.0, "high": 0.3}, "\u22120.9"),
    ],
)
def test_a_slope_of_next_to_nothing_is_told_as_finely_as_its_interval_allows(numbers, said):
    """No digits that the interval does not bear, and nothing has no sign."""
    row = {"verdict": "unclear", "percent_per_year": np.nan, "unit": "cmol/kg", "q": 1.0}
    assert story.trend_said(row | numbers, confidence=0.95) == f"unclear, {said} cmol/kg a year"


@pytest.mark.parametrize(
    ("rate", "ends", "said"),
    [(-0.03, (-3.1, 3.0), "0.0"), (-0.04, (-0.05, -0.03), "\u22120.04"), (0.26, (-3.0, 3.5), "+0.3")],
)
def test_a_rate_of_next_to_nothing_has_no_sign(rate, ends, said):
    """0.0 % a year where the interval is wide, and its two digits where it is narrow."""
    row = {"verdict": "unclear", "percent_per_year": rate, "percent_low": ends[0], "percent_high": ends[1]}
    row |= {"unit": "mg/kg", "slope_per_year": rate, "q": 1.0}
    assert story.trend_said(row, confidence=0.95) == f"unclear, {said} % a year"


def test_a_score_of_which_the_low_end_is_better_says_so():
    """Guimaraes, Ball & Tormena 2011: Sq 1 is friable, Sq 5 very compact; no laboratory had the spadeful."""
    alike = {"analyte": "structure score", "method": "visual", "unit": "score"}
    rows = [
        {"bed": bed, "sampled": f"{year}-04-12", "season": f"spring {year}", "value": score, **alike}
        for bed in ("East", "West")
        for year, score in ((2021, 4.0), (2022, 3.5), (2023, 3.0), (2024, 1.5))
    ]
    found = frames.results(rows)
    change = compare(found, before="spring 2021", after="spring 2024")
    for words in (
        story.trend_words(trend(found), analyte="structure score"),
        story.beds_words(change, analyte="structure score"),
    ):
        assert all("lower is better" in part for part in (words.caption, words.paragraph, words.note))
        assert "seen in the beds" in words.subtitle
        assert "not stated" not in words.subtitle.replace("layer not stated", "")


def lost_days(lost):
    """Return pH and the ratio of two cations of six springs; the years in ``lost`` bear no day."""
    return frames.results([
        {"bed": "East", "season": f"spring {year}", "analyte": name, "unit": unit, "method": "", "lab": "L",
         "sampled": None if year in lost else f"{year}-04-15", "value": start + 0.1 * (year - 2019)}
        for name, unit, start in (("pH", "pH", 6.0), ("Ca:Mg (charge)", "ratio", 5.0))
        for year in range(2019, 2025)])  # fmt: skip


@pytest.mark.parametrize("lost", [range(2019, 2025), [2024], [2019, 2021]])
def test_tests_without_a_day_are_told_by_the_years_of_their_seasons(lost):
    """A season is enough to know the year: the words are those of the same record with its days."""
    found, dated = lost_days(lost), lost_days([])
    words, wanted = (story.trend_words(trend(rows), analyte="pH") for rows in (found, dated))
    assert words.headline == wanted.headline
    assert "2019 to 2024" in words.subtitle
    words, wanted = (story.drift_words(drift(rows), bed="East") for rows in (found, dated))
    assert words == wanted


def test_a_trend_of_tests_without_any_time_is_told_as_untested():
    """Neither day nor season: there is no first and no last year to tell."""
    rows = lost_days(range(2019, 2025)).assign(season="")
    assert story.trend_words(trend(rows), analyte="pH") == story.untested_words("pH")
