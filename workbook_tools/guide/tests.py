"""The tests that the guide chooses from: what each costs, what it reads, and how it can come out.

One row a test. `minutes` are without set-up. How a test came out is told by the results and marks of the form; the
first outcome is a sound engine's. `sound` is how often a sound engine (and its gauge) gives that outcome: a reading
misleads about one time in twenty. Minutes and shares: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from workbook_tools.faults import points, timing
from workbook_tools.faults.mixture import IDLE_POINT
from workbook_tools.faults.readiness import NO_OIL, TOO_HOT
from workbook_tools.language.expressions import (
    CYLINDERS,
    FALSE,
    NO,
    TRUE,
    YES,
    Cond,
    column,
    constant,
    either,
    number,
    word,
)
from workbook_tools.language.model import ABSENT, OUT_OF_LIMITS
from workbook_tools.sheets import cylinder_verdicts as verdict
from workbook_tools.sheets import gas_results as gas
from workbook_tools.sheets.compression_results import LITTLE_GAIN, LOW, RECOVERS
from workbook_tools.sheets.fuel_results import LEAN, NOT_LEAN, TIGHT, TIGHTENED
from workbook_tools.sheets.readings import is_above, is_below, is_beyond, is_inside
from workbook_tools.sheets.spark_plugs import LOOKS, is_on_most, looks

#: A question about a reading and its limits, asked by the reading's name.
Ask = Callable[[str], Cond]


@dataclass(frozen=True, eq=False)
class Outcome:
    """One way a test can come out: in words, when it did, and how often it does on a sound engine (share of 1)."""

    words: str
    when: Cond
    sound: float


@dataclass(frozen=True, eq=False)
class Test:
    """One test: what it costs in minutes, which fields it fills, how it can come out, and what must be there for it.

    `fields` with `*` repeat (cylinders, points). `made`: the readings that make it are there. `allowed`: the engine has
    what is tested, and what led to the test was found. `judged`: the form has a figure to hold it against.
    `running`: the engine runs for it; `warm`: it must be warm; `after`: tests that come before it. `each_cylinder`:
    the minutes are for one cylinder. `again`: its readings were taken again after a repair.
    """

    name: str
    minutes: float
    fields: tuple[str, ...]
    outcomes: tuple[Outcome, ...]
    made: Cond
    allowed: Cond = TRUE
    judged: Cond = TRUE
    set_up: str = ""
    set_up_minutes: float = 0
    excludes: str = ""
    running: bool = False
    warm: bool = False
    after: tuple[str, ...] = ()
    each_cylinder: bool = False
    again: Cond = FALSE
    #: It is only made where an earlier reading asks for it.
    called_for: bool = False
    #: Where it was made and does not count as it stands, and why.
    repeat: tuple[tuple[Cond, str], ...] = ()

    def outcome(self, words: str) -> int:
        """The number of an outcome, the first being 1. Raises ValueError for one that the test does not have."""
        return [each.words for each in self.outcomes].index(words) + 1


ON_MANIFOLD, ON_LINE, AT_CARBURETTOR, PLUGS_OUT = (
    "vacuum gauge on the manifold",
    "vacuum gauge on the line",
    "gauge at the carburettor",
    "plugs out",
)
FIRST, GAP = "readiness", "contacts and dwell"


def now(ask: Ask, name: str) -> Cond:
    """A question about a reading as it is now: the one taken again after a repair counts in its place."""
    again = f"after_{name}"
    return (word(f"mark_{again}").known & number(again).known & ask(again)) | (
        number(again).missing & ask(name)
    )


#: Nothing is run any longer, and nothing else looked for, until that is put right.
STOPPED = (
    (NO_OIL & number("after_oil_pressure").missing)
    | (TOO_HOT & number("after_coolant_temperature").missing)
    | now(is_below, "oil_pressure")
    | now(is_above, "coolant_temperature")
)


def _any(name: str, *choices: str) -> Cond:
    return either(*(column(name).any_is(choice) for choice in choices))


def _two(bad: Cond, good: Cond, words: tuple[str, str], sound: float = 0.95) -> tuple[Outcome, ...]:
    return Outcome(words[0], good, sound), Outcome(words[1], bad, round(1 - sound, 4))


needle, level = word("needle_now"), word("vacuum_now")
all_dry = column("compression_dry").count() == CYLINDERS
low = column("compression_is_low").any_is(LOW)
dry_again = column("after_compression").count() > 0
is_low_now = (dry_again & column("mark_after_compression").any_is(OUT_OF_LIMITS)) | (~dry_again & low)
wet_taken = column("compression_wet").count() > 0
leak_taken = column("leakdown").count() > 0
plugs_seen = either(*(looks.any_is(look) for look in LOOKS))
line_vacuum, manifold_then = number("advance_line_vacuum"), number("manifold_vacuum_then")
plugged = number("advance_line_vacuum_plugged")
same = constant("same_vacuum")
gases = column("gas_co").count() > 0
raised, idle = word("mixture_says").of(gas.RAISED), word("mixture_says").of(IDLE_POINT)
any_looks_lean = word("looks_lean").of(gas.RAISED) == YES
any_misfire = _any("gas_misfire", YES)
gas_again = number("after_lambda")


def gas_says(before: str, after: Ask) -> Cond:
    """What the gas at the raised speed says, or what it said when it was read again."""
    return (gas_again.missing & (raised == before)) | (gas_again.known & after("after_lambda"))


pressure_asked = word("pressure_asked") != NO
clearance, adjusted = word("valve_clearance"), word("needle_after_valve_adjustment")
sample = word("sample_ok")
warm_figure = number("spec_operating_temp_min").known | number("spec_operating_temp_max").known
steadied = is_inside("mixture_best_vacuum") & (needle == "slow wander")
vacuum_low = now(is_below, "idle_vacuum_mean")
#: Vacuum is low, the intake was not found tight, and nobody found yet where the air comes in.
air_is_sought = (
    (vacuum_low | is_below("cranking_vacuum") | is_below("running_vacuum"))
    & ~word("intake_word").is_in(TIGHT, TIGHTENED)
    & (word("hoses_pinched") != "vacuum came up")
    & (word("carburettor_base_tested") != "engine changed")
)

TESTS: tuple[Test, ...] = (
    Test(
        FIRST,
        5,
        ("coolant_temperature", "oil_pressure", "idle_speed"),
        (
            Outcome(
                "warm, oiled, idling",
                number("idle_speed").known
                & ~STOPPED
                & ~is_beyond("idle_speed")
                & ~is_below("coolant_temperature"),
                0.94,
            ),
            Outcome("oil pressure low", now(is_below, "oil_pressure") | NO_OIL, 0.01),
            Outcome("too hot", now(is_above, "coolant_temperature") | TOO_HOT, 0.02),
            Outcome(
                "cold, or idle speed off", is_below("coolant_temperature") | is_beyond("idle_speed"), 0.03
            ),
        ),
        again=number("after_coolant_temperature").known | number("after_oil_pressure").known,
        made=number("idle_speed").known | number("coolant_temperature").known,
        excludes=PLUGS_OUT,
        running=True,
        repeat=(
            (
                warm_figure & (word("coolant_asked") != NO) & number("coolant_temperature").missing,
                "A cold engine reads wrong everywhere: all other readings rest on the coolant's temperature.",
            ),
            (
                number("idle_speed").missing,
                "Vacuum and timing are specified at the idle: without it neither is judged.",
            ),
        ),
    ),
    Test(
        "battery and starter",
        2,
        ("battery_rest", "battery_cranking", "cranking_speed"),
        _two(
            now(is_below, "cranking_speed") | is_below("battery_cranking"),
            is_inside("cranking_speed") | is_inside("battery_cranking"),
            ("turns fast enough", "turns too slowly"),
        ),
        again=number("after_cranking_speed").known,
        made=number("battery_cranking").known | number("cranking_speed").known,
    ),
    Test(
        "air cleaner",
        1,
        ("air_cleaner",),
        _two(
            word("air_cleaner").is_in("dirty", "blocked"),
            word("air_cleaner") == "clean",
            ("clean", "dirty or blocked"),
            0.97,
        ),
        made=word("air_cleaner").known,
    ),
    Test(
        "heat riser",
        1,
        ("heat_riser",),
        (
            Outcome("free", word("heat_riser") == "free", 0.98),
            Outcome("stuck", word("heat_riser") == "stuck", 0.015),
            Outcome("burned through", word("heat_riser") == "burned through", 0.005),
        ),
        made=word("heat_riser").known,
        allowed=word("heat_riser") != ABSENT,
    ),
    Test(
        "idle vacuum",
        1,
        ("idle_vacuum_low", "idle_vacuum_high", "needle", "needle_with_speed"),
        (
            Outcome("steady, in range", (level == "in range") & needle.is_in("steady", "not judged"), 0.80),
            Outcome(
                "swing widens with speed", (word("needle_with_speed") == "widens") & (CYLINDERS > 2), 0.01
            ),
            Outcome("falls while held", (word("needle_with_speed") == "falls slowly while held"), 0.01),
            Outcome("evenly spaced drops", needle == "evenly spaced drops", 0.03),
            Outcome("occasional drops", needle == "occasional drops", 0.02),
            Outcome("fast flutter", needle == "fast flutter", 0.02),
            Outcome("slow wander", needle == "slow wander", 0.03),
            Outcome("wide regular swing", needle == "wide regular swing", 0.01),
            Outcome("steady, very low", level == "very low", 0.01),
            Outcome("steady, low", level == "low", 0.04),
            Outcome("above its range", level == "high", 0.02),
        ),
        again=number("after_idle_vacuum_mean").known | word("after_needle").known,
        made=number("idle_vacuum_low").known | number("idle_vacuum_high").known | word("needle").known,
        set_up=ON_MANIFOLD,
        set_up_minutes=2,
        excludes=PLUGS_OUT,
        running=True,
        warm=True,
    ),
    Test(
        "raised speed held",
        2,
        ("raised_speed", "raised_vacuum_start", "raised_vacuum_held"),
        _two(
            (number("raised_vacuum_fall") > constant("same_vacuum")),
            number("raised_vacuum_fall").known & ~(number("raised_vacuum_fall") > constant("same_vacuum")),
            ("holds", "falls slowly"),
        ),
        made=number("raised_vacuum_held").known,
        allowed=CYLINDERS > 2,
        set_up=ON_MANIFOLD,
        set_up_minutes=2,
        excludes=PLUGS_OUT,
        running=True,
        warm=True,
    ),
    Test(
        "throttle snapped",
        0.5,
        ("snap_vacuum_low", "snap_vacuum_high"),
        _two(
            word("snap_supports_rings") == YES,
            word("snap_supports_rings") == NO,
            ("falls and rises well", "falls to nothing, rises short"),
        ),
        made=number("snap_vacuum_low").known,
        allowed=CYLINDERS > 2,
        set_up=ON_MANIFOLD,
        set_up_minutes=2,
        excludes=PLUGS_OUT,
        running=True,
        warm=True,
    ),
    Test(
        "running mixture and choke",
        2,
        ("running_speed", "running_vacuum", "running_vacuum_choked"),
        (
            Outcome("normal", now(is_inside, "running_vacuum"), 0.90),
            Outcome(
                "below normal, the choke brings it up",
                is_below("running_vacuum") & (word("running_says") == LEAN),
                0.03,
            ),
            Outcome(
                "below normal, not by mixture",
                is_below("running_vacuum") & (word("running_says") == NOT_LEAN),
                0.07,
            ),
        ),
        again=number("after_running_vacuum").known,
        made=number("running_vacuum").known,
        set_up=ON_MANIFOLD,
        set_up_minutes=2,
        excludes=PLUGS_OUT,
        running=True,
        warm=True,
    ),
    Test(
        "idle mixture",
        2,
        ("mixture_best_vacuum",),
        _two(
            steadied,
            number("mixture_best_vacuum").known & ~steadied,
            ("changes nothing", "steadies the needle in its range"),
            0.96,
        ),
        made=number("mixture_best_vacuum").known,
        allowed=(CYLINDERS > 2) & (word("needle") == "slow wander"),
        set_up=ON_MANIFOLD,
        set_up_minutes=2,
        excludes=PLUGS_OUT,
        running=True,
        warm=True,
        called_for=True,
    ),
    Test(
        "cranking vacuum",
        1,
        ("cranking_vacuum", "cranking_vacuum_rise"),
        _two(
            number("after_cranking_vacuum").known & is_below("after_cranking_vacuum")
            | number("after_cranking_vacuum").missing
            & (is_below("cranking_vacuum") | (word("cranking_vacuum_rise") == "slow")),
            now(is_inside, "cranking_vacuum") & ~(word("cranking_vacuum_rise") == "slow"),
            ("in limits", "low or slow to rise"),
            0.93,
        ),
        again=number("after_cranking_vacuum").known,
        made=number("cranking_vacuum").known,
        judged=number("site_cranking_vacuum_min").known,
        set_up=ON_MANIFOLD,
        set_up_minutes=2,
        excludes=PLUGS_OUT,
    ),
    Test(
        "retest after tightening",
        6,
        ("cranking_vacuum_retest",),
        (
            Outcome("still low", word("intake_word").known & is_below("cranking_vacuum_retest"), 0.9),
            Outcome(
                "back in limits",
                word("intake_word").is_in(TIGHTENED, TIGHT) & number("cranking_vacuum_retest").known,
                0.1,
            ),
        ),
        made=number("cranking_vacuum_retest").known,
        allowed=is_below("cranking_vacuum") | (word("cranking_vacuum_rise") == "slow"),
        judged=number("site_cranking_vacuum_min").known,
        set_up=ON_MANIFOLD,
        set_up_minutes=2,
        after=("cranking vacuum",),
        excludes=PLUGS_OUT,
        called_for=True,
    ),
    Test(
        "hoses pinched off",
        4,
        ("hoses_pinched",),
        _two(
            word("hoses_pinched") == "vacuum came up",
            word("hoses_pinched") == "no change",
            ("no change", "the vacuum comes up"),
            0.96,
        ),
        made=word("hoses_pinched").known,
        allowed=air_is_sought,
        set_up=ON_MANIFOLD,
        set_up_minutes=2,
        excludes=PLUGS_OUT,
        running=True,
        warm=True,
        called_for=True,
    ),
    Test(
        "carburettor base tested",
        3,
        ("carburettor_base_tested",),
        _two(
            word("carburettor_base_tested") == "engine changed",
            word("carburettor_base_tested") == "no change",
            ("no change", "the engine changes"),
            0.96,
        ),
        made=word("carburettor_base_tested").known,
        allowed=air_is_sought,
        excludes=PLUGS_OUT,
        running=True,
        warm=True,
        called_for=True,
    ),
    Test(
        "dry compression",
        12,
        (
            "throttle_held_open",
            "all_plugs_out",
            "compression_strokes",
            "compression_first_*",
            "compression_dry_*",
        ),
        (
            Outcome(
                "even",
                all_dry
                & ~is_low_now
                & (column("compression_above_max").count() == 0)
                & (word("compression_counts") != NO),
                0.90,
            ),
            Outcome("all low and even", all_dry & ~dry_again & (word("compression_all_low") == YES), 0.01),
            Outcome(
                "neighbours equally low",
                ~dry_again & low & (_any("equal_before", RECOVERS, LITTLE_GAIN, verdict.OPEN)),
                0.01,
            ),
            Outcome("low in one or some", is_low_now & (word("compression_counts") != NO), 0.05),
            Outcome("above its range", all_dry & (column("compression_above_max").count() > 0), 0.03),
        ),
        again=dry_again,
        made=all_dry,
        set_up=PLUGS_OUT,
        set_up_minutes=8,
        warm=True,
        repeat=(
            (
                word("compression_counts") == NO,
                "The readings were not made under test conditions and say nothing of the cylinders.",
            ),
            (
                word("compression_conditions") == "not stated",
                "Compression can't count as proven until it is known that the test was made as it must be.",
            ),
        ),
    ),
    Test(
        "wet compression",
        5,
        ("compression_wet_*",),
        (
            Outcome("little gain", _any("wet_verdict", LITTLE_GAIN), 0.6),
            Outcome("oil brings it up", _any("wet_verdict", RECOVERS), 0.2),
            Outcome("in between", _any("wet_verdict", verdict.OPEN), 0.2),
        ),
        made=wet_taken,
        allowed=low | (word("compression_all_low") == YES),
        set_up=PLUGS_OUT,
        set_up_minutes=8,
        after=("dry compression",),
        called_for=True,
    ),
    Test(
        "leak-down",
        4,
        ("leakdown_*", "leak_heard_at_*"),
        (
            Outcome("tight", leak_taken & (column("mark_leakdown").count_of(OUT_OF_LIMITS) == 0), 0.92),
            Outcome("at the oil filler", _any("leak_means", verdict.RINGS), 0.02),
            Outcome("at a valve", _any("leak_means", verdict.EXHAUST_VALVE, verdict.INTAKE_VALVE), 0.03),
            Outcome("next cylinder or coolant", _any("leak_means", verdict.GASKET), 0.01),
            Outcome(
                "over the limit, heard nowhere", column("mark_leakdown").count_of(OUT_OF_LIMITS) > 0, 0.02
            ),
        ),
        made=leak_taken,
        set_up=PLUGS_OUT,
        set_up_minutes=8,
        each_cylinder=True,
        warm=True,
    ),
    Test(
        "plugs",
        4,
        ("plug_look_*", "plug_gap_*"),
        (
            Outcome(
                "normal",
                plugs_seen
                & (looks.count_of("normal") >= CYLINDERS)
                & (column("mark_plug_gap").count_of(OUT_OF_LIMITS) == 0),
                0.88,
            ),
            Outcome("coolant traces", looks.any_is("coolant traces"), 0.005),
            Outcome(
                "cracked, worn or gap out",
                looks.any_is("cracked or worn") | (column("mark_plug_gap").count_of(OUT_OF_LIMITS) > 0),
                0.03,
            ),
            Outcome("mostly dry soot", is_on_most("dry soot"), 0.025),
            Outcome("mostly blistered white", is_on_most("blistered white"), 0.02),
            Outcome("oily", looks.any_is("oily"), 0.03),
            Outcome("otherwise not normal", plugs_seen & (looks.count_of("normal") < CYLINDERS), 0.01),
        ),
        made=plugs_seen,
        set_up=PLUGS_OUT,
        set_up_minutes=8,
    ),
    Test(
        "speed drop",
        5,
        ("speed_drop_*",),
        _two(
            _any("drop_is_weak", "weak"),
            _any("drop_is_weak", "even") & ~_any("drop_is_weak", "weak"),
            ("even", "a weak cylinder"),
            0.94,
        ),
        made=column("speed_drop").count() > 0,
        allowed=CYLINDERS > 2,
        running=True,
        excludes=PLUGS_OUT,
    ),
    Test(
        GAP,
        5,
        ("ignition_type", "contacts", "point_gap", "dwell"),
        (
            Outcome(
                "in order",
                (word("contacts").missing | (word("contacts") == "good"))
                & (now(is_inside, "point_gap") | now(is_inside, "dwell")),
                0.92,
            ),
            Outcome("pitted", word("contacts") == "pitted", 0.01),
            Outcome(
                "worn, burned or out of line", word("contacts").is_in("worn", "burned", "out of line"), 0.03
            ),
            Outcome("gap or dwell out", now(is_beyond, "point_gap") | now(is_beyond, "dwell"), 0.04),
        ),
        again=number("after_point_gap").known | number("after_dwell").known,
        made=number("point_gap").known | number("dwell").known | word("contacts").known,
        allowed=word("points_fitted") != NO,
        repeat=(
            (
                (word("points_fitted") == YES) & number("point_gap").missing & number("dwell").missing,
                "The gap moves the timing, so no timing stands until it is known.",
            ),
        ),
    ),
    Test(
        "timing by the light",
        4,
        ("timing", "timing_speed", "timing_mark"),
        (
            Outcome("in limits", now(is_inside, "timing") & (word("timing_mark") != "wanders"), 0.92),
            Outcome("late", now(is_below, "timing"), 0.03),
            Outcome("early", now(is_above, "timing"), 0.03),
            Outcome("in limits, and the mark wanders", now(is_inside, "timing"), 0.02),
        ),
        again=number("after_timing").known,
        made=number("timing").known,
        judged=number("timing_low").known,
        excludes=PLUGS_OUT,
        running=True,
        warm=True,
        after=(GAP,),
        repeat=(
            (
                points.points_out & ~is_inside("after_timing"),
                "Setting the points moves the timing: what was read counts only until they are set.",
            ),
            (
                timing.off_speed,
                "It was read at another speed than the one specified, where the advance may have begun.",
            ),
        ),
    ),
    Test(
        "advance unit",
        3,
        ("advance_unit_moves",),
        _two(word("advance_unit_moves") == NO, word("advance_unit_moves") == YES, ("moves", "does not move")),
        made=word("advance_unit_moves").known,
        allowed=word("advance_unit_moves") != ABSENT,
        excludes=PLUGS_OUT,
        running=True,
    ),
    Test(
        "vacuum in the advance line",
        2,
        ("advance_line_vacuum", "manifold_vacuum_then"),
        (
            Outcome("the manifold's", (abs(manifold_then - line_vacuum) <= same) & (line_vacuum > same), 0.6),
            Outcome("none", (line_vacuum <= same) & (manifold_then > same), 0.2),
            Outcome("some", (line_vacuum > same) & (manifold_then - line_vacuum > same), 0.2),
        ),
        made=line_vacuum.known,
        allowed=word("advance_unit_moves") == NO,
        set_up=ON_LINE,
        set_up_minutes=2,
        excludes=PLUGS_OUT,
        running=True,
        after=("advance unit",),
        repeat=(
            (
                (line_vacuum <= same) & (abs(manifold_then - line_vacuum) <= same),
                "With next to no vacuum in the manifold an open line and a clogged one read alike: close the throttle a little.",
            ),
        ),
        called_for=True,
    ),
    Test(
        "advance line plugged",
        1,
        ("advance_line_vacuum_plugged",),
        (
            Outcome("comes up to the manifold's", (abs(manifold_then - plugged) <= same), 0.5),
            Outcome("stays below", (manifold_then - plugged > same), 0.5),
        ),
        made=plugged.known,
        allowed=(word("advance_unit_moves") == NO)
        & (line_vacuum > same)
        & (manifold_then - line_vacuum > same),
        set_up=ON_LINE,
        set_up_minutes=2,
        excludes=PLUGS_OUT,
        running=True,
        after=("vacuum in the advance line",),
        called_for=True,
    ),
    Test(
        "rotor springs back",
        2,
        ("rotor_springs_back",),
        _two(
            word("rotor_springs_back").is_in("sluggish", NO),
            word("rotor_springs_back") == YES,
            ("springs back", "sluggish or not"),
        ),
        made=word("rotor_springs_back").known,
        allowed=word("rotor_springs_back") != ABSENT,
    ),
    Test(
        "advance curve",
        6,
        ("advance_speed_*", "advance_reading_*"),
        _two(
            column("mark_advance_corrected").count_of(OUT_OF_LIMITS) > 0,
            (column("margin_advance_corrected").count() > 0)
            & (column("mark_advance_corrected").count_of(OUT_OF_LIMITS) == 0),
            ("on its curve", "off its curve"),
            0.93,
        ),
        made=column("advance_reading").count() > 0,
        judged=column("spec_advance_speed").count() > 0,
        excludes=PLUGS_OUT,
        running=True,
        warm=True,
        after=("timing by the light",),
        repeat=(
            (
                ~(column("advance_speed").count() == column("advance_reading").count()),
                "An advance reading says something only together with its speed.",
            ),
        ),
    ),
    Test(
        "spark at a lead",
        3,
        ("spark",),
        _two(
            (word("after_spark").missing & word("spark").is_in("weak", "none"))
            | word("after_spark").is_in("weak", "none"),
            (word("after_spark").missing & (word("spark") == "strong")) | (word("after_spark") == "strong"),
            ("strong", "weak or none"),
        ),
        again=word("after_spark").known,
        made=word("spark").known,
    ),
    Test(
        "fuel pressure",
        3,
        ("fuel_pressure",),
        (
            Outcome("in limits", now(is_inside, "fuel_pressure"), 0.94),
            Outcome("low", now(is_below, "fuel_pressure"), 0.03),
            Outcome("high", now(is_above, "fuel_pressure"), 0.03),
        ),
        again=number("after_fuel_pressure").known,
        made=number("fuel_pressure").known,
        allowed=pressure_asked,
        judged=number("spec_fuel_pressure_min").known | number("spec_fuel_pressure_max").known,
        set_up=AT_CARBURETTOR,
        set_up_minutes=5,
    ),
    Test(
        "fuel delivery",
        3,
        ("fuel_delivery_volume", "fuel_delivery_time"),
        _two(now(is_below, "fuel_delivery_rate"), now(is_inside, "fuel_delivery_rate"), ("in limits", "low")),
        again=number("after_fuel_delivery_rate").known,
        made=number("fuel_delivery_rate").known,
        judged=number("spec_fuel_delivery_min").known,
        set_up=AT_CARBURETTOR,
        set_up_minutes=5,
    ),
    Test(
        "back-pressure",
        12,
        ("backpressure",),
        _two(now(is_above, "backpressure"), now(is_inside, "backpressure"), ("in limits", "high"), 0.96),
        again=number("after_backpressure").known,
        made=number("backpressure").known,
        judged=number("spec_backpressure_max").known,
        excludes=PLUGS_OUT,
        running=True,
        warm=True,
    ),
    Test(
        "exhaust gas",
        5,
        ("gas_speed_*", "gas_co_*", "gas_co2_*", "gas_hc_*", "gas_o2_*"),
        (
            Outcome(
                "right", gas_says(gas.IN_ORDER, is_inside) & (idle.missing | (idle == gas.IN_ORDER)), 0.86
            ),
            Outcome("unburned charges", gas_again.missing & (any_looks_lean | any_misfire), 0.03),
            Outcome("rich", gas_says(gas.RICH, is_below), 0.03),
            Outcome("lean", gas_says(gas.LEAN, is_above), 0.04),
            Outcome("off at idle only", (raised == gas.IN_ORDER) & idle.is_in(gas.LEAN, gas.RICH), 0.04),
        ),
        again=gas_again.known,
        made=gases,
        excludes=PLUGS_OUT,
        running=True,
        warm=True,
        repeat=(
            (
                either(*(sample.of(n).known & (sample.of(n) != gas.USABLE) for n in (1, 2))),
                "A sample says nothing of the mixture: push the probe in deeper, look for leaks in the exhaust, let the analyser settle.",
            ),
            (
                idle.is_in(gas.LEAN, gas.RICH) & raised.missing,
                "The raised speed tells an idle adjustment from a mixture that is wrong throughout.",
            ),
        ),
    ),
    Test(
        "valve clearance",
        20,
        ("valve_clearance", "needle_after_valve_adjustment"),
        (
            Outcome("in limits", (clearance == "in limits") & ~adjusted.is_in("steady", "better"), 0.93),
            Outcome(
                "too tight, or the needle steadies",
                (clearance == "too tight") | ((adjusted == "steady") & needle.is_in("fast flutter")),
                0.03,
            ),
            Outcome("too wide", clearance == "too wide", 0.02),
            Outcome(
                "set, and the needle as before", clearance.known & adjusted.is_in("unchanged", "better"), 0.02
            ),
        ),
        made=clearance.is_in("in limits", "too tight", "too wide")
        | adjusted.is_in("steady", "unchanged", "better"),
    ),
)
BY_NAME = {test.name: test for test in TESTS}
#: The place of each test, the first being 1.
PLACE = {test.name: place for place, test in enumerate(TESTS, 1)}
