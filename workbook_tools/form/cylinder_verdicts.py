"""What each cylinder points to: wet gain share, neighbours, leak-down, supporting signs, speed drop.

Wet gain share = ((wet - dry) - usual gain) / shortfall. A half or more: rings. Under a fifth: a valve, or the head
gasket where a neighbour is equally low and gains as little. The leak-down test outweighs the wet test.
Source: common practice; see docs/sources.md.
"""

from __future__ import annotations

from workbook_tools.form.compression_results import LITTLE_GAIN, LOW, RECOVERS, REPEAT, SOUND, Compute
from workbook_tools.language.measures import COMPRESSION, NONE, SPEED
from workbook_tools.language.model import OUT_OF_LIMITS, Result, Shape, Value
from workbook_tools.language.values import Values
from workbook_tools.science.sheet_math import median, sheet_round

OPEN = "open"
RINGS, VALVE, GASKET = "rings", "valve", "head gasket"
EXHAUST_VALVE, INTAKE_VALVE = "exhaust valve", "intake valve"
PLACE_UNKNOWN = "leaks, place not heard"
TIGHT = "low but tight: repeat both"
WET_NEXT = "wet test or leak-down next"
ALL_LOW = "all cylinders low"
VALVE_OR_GASKET, RINGS_OR_VALVE = "valve or head gasket", "rings or valve"
#: What a leak over the limit means by where it is heard (FAA-H-8083-32 Ch. 10, from memory; TM 5-3805-260-24 in part).
LEAK_PLACE_MEANS = {
    "exhaust": EXHAUST_VALVE,
    "intake": INTAKE_VALVE,
    "oil filler": RINGS,
    "coolant": GASKET,
    "next cylinder": GASKET,
}
CONFIRMED, INDICATED, POSSIBLE = "confirmed", "indicated", "possible"


# --- wet test --------------------------------------------------------------------------------------------------------


def shortfall(v: Values, n: int | None) -> Value:
    """How far a low cylinder is under the good level."""
    dry, level = v.number("compression_dry", n), v.number("compression_good_level")
    if v.text("compression_is_low", n) != LOW or dry is None or level is None:
        return None
    return sheet_round(level - dry, 6)


def wet_gain(v: Values, n: int | None) -> Value:
    """Wet reading less dry."""
    dry, wet = v.number("compression_dry", n), v.number("compression_wet", n)
    return None if dry is None or wet is None else sheet_round(wet - dry, 6)


def sound_gain(v: Values, n: int | None) -> Value:
    """Wet gain of a sound cylinder: what oil raises a good one by. A loss is a slip and tells nothing."""
    gain = v.number("wet_gain", n)
    return gain if gain is not None and gain >= 0 and v.text("compression_is_low", n) == SOUND else None


def gain_share(usual: str) -> Compute:
    """Share of the shortfall that oil made good beyond the usual gain."""

    def compute(v: Values, n: int | None) -> Value:
        missing, gain, comes_off = v.number("compression_shortfall", n), v.number("wet_gain", n), v.number(usual)
        if missing is None or gain is None or comes_off is None or missing <= 0:
            return None
        return sheet_round((gain - comes_off) / missing, 6)

    return compute


def wet_verdict(v: Values, n: int | None) -> Value:
    """recovers, little gain, or open where the share lies between, its two ends differ or oil lowered the reading."""
    most, least = v.number("wet_gain_share", n), v.number("wet_gain_share_least", n)
    if most is None or least is None:
        return None
    if (v.number("wet_gain", n) or 0.0) < 0:
        return OPEN
    if least >= v.constant("rings_share"):
        return RECOVERS
    return LITTLE_GAIN if most < v.constant("valve_share") else OPEN


def small_shortfall(v: Values, n: int | None) -> Value:
    """'yes' where the shortfall is so small, or the reading so near the only limit it breaks, that the gauge decides."""
    dry, missing = v.number("compression_dry", n), v.number("compression_shortfall", n)
    if dry is None or missing is None:
        return None
    if v.text("compression_all_low") == "yes":
        missing = (v.number("site_compression_min") or 0.0) - dry
    line, margin = v.number("compression_comparison_line"), v.number("margin_compression_dry", n)
    near = margin is not None and abs(margin) < (v.number("compression_gauge_tolerance") or 0.0)
    compared_low = line is not None and dry < line
    return "yes" if missing < v.constant("small_shortfall") or (near and not compared_low) else None


def beside(shape: Shape, cylinder: int, step: int) -> int | None:
    """The cylinder before (-1) or after (+1) on the same bank, None at the bank's end."""
    for bank in shape.banks:
        if cylinder in bank:
            place = bank.index(cylinder) + step
            return bank[place] if 0 <= place < len(bank) else None
    return None


def equal_neighbour(step: int) -> Compute:
    """How the neighbour on one side took the wet test, where it is equally low; blank where it is not."""

    def compute(v: Values, n: int | None) -> Value:
        assert n is not None
        other = beside(v.shape, n, step)
        if other is None or v.text("compression_is_low", n) != LOW or v.text("compression_is_low", other) != LOW:
            return None
        mine, theirs = v.number("compression_dry", n) or 0.0, v.number("compression_dry", other) or 0.0
        if abs(sheet_round(mine - theirs, 6)) > v.constant("equal_neighbours"):
            return None
        return v.text("wet_verdict", other) or OPEN

    return compute


def equal_neighbour_formula(step: int):  # noqa: ANN201 - a formula maker, see Result.formula
    """The same as a formula; an empty text at the bank's end."""

    def formula(shape: Shape, n: int | None) -> str:
        assert n is not None
        other = beside(shape, n, step)
        if other is None:
            return '=""'
        both = f'AND(compression_is_low_#="{LOW}",compression_is_low_{other}="{LOW}")'
        difference = f"ABS(ROUND(SUM(compression_dry_#)-SUM(compression_dry_{other}),6))"
        return (
            f"=IF(AND({both},{difference}<={{equal_neighbours}}),"
            f'IF(wet_verdict_{other}="","{OPEN}",wet_verdict_{other}),"")'
        )

    return formula


# --- leak-down -------------------------------------------------------------------------------------------------------


def leak_means(v: Values, n: int | None) -> Value:
    """What a leak over the limit means by where it is heard."""
    if v.text("mark_leakdown", n) != OUT_OF_LIMITS:
        return None
    return LEAK_PLACE_MEANS.get(v.text("leak_heard_at", n), PLACE_UNKNOWN)


def leak_means_formula() -> str:
    """The same as nested IFs."""
    text = f'"{PLACE_UNKNOWN}"'
    for place, meaning in reversed(LEAK_PLACE_MEANS.items()):
        text = f'IF(leak_heard_at_#="{place}","{meaning}",{text})'
    return f'=IF(mark_leakdown_#<>"{OUT_OF_LIMITS}","",{text})'


def leak_is_tight(v: Values, n: int | None) -> bool:
    """Whether a leak-down reading in limits says that the cylinder is tight."""
    return v.number("leakdown", n) is not None and v.text("mark_leakdown", n) not in ("", OUT_OF_LIMITS)


# --- what it points to -----------------------------------------------------------------------------------------------


def wet_points_to(v: Values, n: int | None) -> Value:
    """What dry and wet readings of a low cylinder and its neighbours point to."""
    if v.text("compression_is_low", n) != LOW:
        return None
    if v.text("compression_counts") == "no":
        return REPEAT
    if v.text("compression_all_low") == "yes":
        return ALL_LOW
    verdict = v.text("wet_verdict", n)
    if not verdict:
        return WET_NEXT
    if verdict == RECOVERS:
        return RINGS
    if verdict == OPEN:
        return RINGS_OR_VALVE
    sides = v.text("equal_before", n), v.text("equal_after", n)
    if LITTLE_GAIN in sides:
        return GASKET
    return VALVE_OR_GASKET if OPEN in sides else VALVE


def points_to(v: Values, n: int | None) -> Value:
    """The last word on a cylinder: leak-down outweighs the wet test; a small shortfall makes it 'possibly'."""
    leak, wet = v.text("leak_means", n), v.text("wet_points_to", n)
    if leak and (leak != PLACE_UNKNOWN or not wet or wet == WET_NEXT):
        return leak
    if not wet or wet in (REPEAT, ALL_LOW, WET_NEXT):
        unlike = wet == WET_NEXT or (wet == ALL_LOW and v.text("wet_verdict", n) == RECOVERS)
        if unlike and leak_is_tight(v, n):
            return TIGHT
        return wet or None
    if leak_is_tight(v, n):
        return TIGHT
    return f"possibly {wet}" if v.text("small_shortfall", n) == "yes" else wet


def points_to_formula() -> str:
    """The same as a formula."""
    tight = f'AND(COUNT(leakdown_#)=1,mark_leakdown_#<>"",mark_leakdown_#<>"{OUT_OF_LIMITS}")'
    return (
        f'=IF(AND(leak_means_#<>"",OR(leak_means_#<>"{PLACE_UNKNOWN}",wet_points_to_#="",wet_points_to_#="{WET_NEXT}")),'
        f'leak_means_#,IF(OR(wet_points_to_#="",wet_points_to_#="{REPEAT}",AND(wet_points_to_#="{ALL_LOW}",'
        f'wet_verdict_#<>"{RECOVERS}")),wet_points_to_#,IF({tight},"{TIGHT}",IF(OR(wet_points_to_#="{WET_NEXT}",wet_points_to_#="{ALL_LOW}"),'
        f'wet_points_to_#,IF(small_shortfall_#="yes","possibly ","")&wet_points_to_#))))'
    )


def support_count(v: Values, n: int | None) -> Value:
    """How many further signs support one cause of a low cylinder that had neither wet test nor leak-down."""
    first, look = v.number("first_stroke_share", n), v.text("plug_look", n)
    needle = v.text("needle") if v.shape.cylinders > 2 else ""
    builds_up = first is not None and first < v.constant("builds_up_share")
    stays_low = first is not None and not builds_up
    snapped = v.text("snap_supports_rings") == "yes"
    near = bool(v.text("equal_before", n) or v.text("equal_after", n))
    rings = builds_up + (look == "oily") + snapped
    valve = stays_low + (needle == "evenly spaced drops")
    gasket = near * ((look == "coolant traces") + (needle == "wide regular swing"))
    return float(max(rings, valve, gasket))


SUPPORT_FORMULA = (
    "=MAX(IF(COUNT(first_stroke_share_#)=1,IF(first_stroke_share_#<{builds_up_share},1,0),0)"
    '+IF(plug_look_#="oily",1,0)+IF(snap_supports_rings="yes",1,0),'
    "IF(COUNT(first_stroke_share_#)=1,IF(first_stroke_share_#<{builds_up_share},0,1),0)"
    '+IF(needle_judged="evenly spaced drops",1,0),'
    'IF(OR(equal_before_#<>"",equal_after_#<>""),'
    'IF(plug_look_#="coolant traces",1,0)+IF(needle_judged="wide regular swing",1,0),0))'
)


def strength(v: Values, n: int | None) -> Value:
    """How sure the cause of this cylinder's trouble is: confirmed, indicated, possible, or blank."""
    leak, wet = v.text("leak_means", n), v.text("wet_points_to", n)
    if leak and leak != PLACE_UNKNOWN:
        return CONFIRMED
    if wet in ("", REPEAT, ALL_LOW):
        return POSSIBLE if leak else None
    if wet == WET_NEXT:
        supported = not leak and not leak_is_tight(v, n) and (v.number("support_count", n) or 0.0) > 0
        return INDICATED if supported else POSSIBLE
    undecided = wet in (RINGS_OR_VALVE, VALVE_OR_GASKET) or v.text("small_shortfall", n) == "yes"
    return POSSIBLE if undecided or leak_is_tight(v, n) else CONFIRMED


STRENGTH_FORMULA = (
    f'=IF(AND(leak_means_#<>"",leak_means_#<>"{PLACE_UNKNOWN}"),"{CONFIRMED}",'
    f'IF(OR(wet_points_to_#="",wet_points_to_#="{REPEAT}",wet_points_to_#="{ALL_LOW}"),'
    f'IF(leak_means_#<>"","{POSSIBLE}",""),'
    f'IF(wet_points_to_#="{WET_NEXT}",IF(AND(leak_means_#="",points_to_#<>"{TIGHT}",support_count_#>0),"{INDICATED}","{POSSIBLE}"),'
    f'IF(OR(wet_points_to_#="{RINGS_OR_VALVE}",wet_points_to_#="{VALVE_OR_GASKET}",small_shortfall_#="yes",'
    f'points_to_#="{TIGHT}"),"{POSSIBLE}","{CONFIRMED}"))))'
)


def per_cylinder(name: str, label: str, formula, compute: Compute, measure=NONE, **more) -> Result:  # noqa: ANN001, ANN003
    """A result that repeats with the cylinders."""
    return Result(name, label, formula, compute, measure, per="cylinder", **more)


def share_formula(usual: str) -> str:
    """Formula of the wet gain share with one end of the usual gain."""
    return (
        f'=IF(COUNT(compression_shortfall_#,wet_gain_#,{usual})<3,"",IF(compression_shortfall_#<=0,"",'
        f"ROUND((wet_gain_#-{usual})/compression_shortfall_#,6)))"
    )


WET_AND_LEAK = (
    per_cylinder(
        "compression_shortfall",
        "Shortfall",
        f'=IF(compression_is_low_#<>"{LOW}","",IF(COUNT(compression_good_level)=0,"",'
        "ROUND(compression_good_level-compression_dry_#,6)))",
        shortfall,
        COMPRESSION,
    ),
    per_cylinder(
        "wet_gain",
        "Wet gain",
        '=IF(COUNT(compression_dry_#,compression_wet_#)<2,"",ROUND(compression_wet_#-compression_dry_#,6))',
        wet_gain,
        COMPRESSION,
    ),
    per_cylinder(
        "wet_gain_share", "Share of shortfall", share_formula("usual_gain_least"), gain_share("usual_gain_least"), percent=True
    ),
    per_cylinder("points_to", "Points to", points_to_formula(), points_to, wide=True),
    per_cylinder(
        "sound_gain",
        "Wet gain where sound",
        f'=IF(compression_is_low_#<>"{SOUND}","",IF(COUNT(wet_gain_#)=0,"",IF(wet_gain_#<0,"",wet_gain_#)))',
        sound_gain,
        COMPRESSION,
        working=True,
    ),
    per_cylinder(
        "wet_gain_share_least",
        "Share, at least",
        share_formula("usual_gain_most"),
        gain_share("usual_gain_most"),
        percent=True,
        working=True,
    ),
    per_cylinder(
        "wet_verdict",
        "Wet test says",
        f'=IF(COUNT(wet_gain_share_#,wet_gain_share_least_#)<2,"",IF(wet_gain_#<0,"{OPEN}",'
        f'IF(wet_gain_share_least_#>={{rings_share}},"{RECOVERS}",IF(wet_gain_share_#<{{valve_share}},"{LITTLE_GAIN}","{OPEN}"))))',
        wet_verdict,
        working=True,
    ),
    per_cylinder(
        "small_shortfall",
        "Too small to tell",
        '=IF(COUNT(compression_shortfall_#)=0,"",IF(OR('
        'IF(compression_all_low="yes",SUM(site_compression_min)-compression_dry_#,compression_shortfall_#)<{small_shortfall},'
        "AND(IF(COUNT(margin_compression_dry_#)=1,ABS(margin_compression_dry_#)<SUM(compression_gauge_tolerance),FALSE),"
        "IF(COUNT(compression_comparison_line)=1,compression_dry_#>=compression_comparison_line,TRUE))),"
        '"yes",""))',
        small_shortfall,
        working=True,
    ),
    per_cylinder(
        "equal_before", "Equally low neighbour before", equal_neighbour_formula(-1), equal_neighbour(-1), working=True
    ),
    per_cylinder(
        "equal_after", "Equally low neighbour after", equal_neighbour_formula(+1), equal_neighbour(+1), working=True
    ),
    per_cylinder("leak_means", "Leak means", leak_means_formula(), leak_means, working=True),
    per_cylinder(
        "wet_points_to",
        "Dry and wet point to",
        f'=IF(compression_is_low_#<>"{LOW}","",IF(compression_counts="no","{REPEAT}",IF(compression_all_low="yes","{ALL_LOW}",'
        f'IF(wet_verdict_#="","{WET_NEXT}",IF(wet_verdict_#="{RECOVERS}","{RINGS}",IF(wet_verdict_#="{OPEN}","{RINGS_OR_VALVE}",'
        f'IF(OR(equal_before_#="{LITTLE_GAIN}",equal_after_#="{LITTLE_GAIN}"),"{GASKET}",'
        f'IF(OR(equal_before_#="{OPEN}",equal_after_#="{OPEN}"),"{VALVE_OR_GASKET}","{VALVE}"))))))))',
        wet_points_to,
        working=True,
    ),
    per_cylinder("support_count", "Supporting signs", SUPPORT_FORMULA, support_count, working=True),
    per_cylinder("cylinder_strength", "How sure", STRENGTH_FORMULA, strength, working=True),
)


# --- speed drop ------------------------------------------------------------------------------------------------------


def sound_drop(v: Values, _: int | None) -> Value:
    """Median of the upper half of the speed drops, three cylinders and more."""
    drops = sorted(v.column("speed_drop"), reverse=True)
    return median(drops[: (len(drops) + 1) // 2]) if len(drops) > 2 else None


def drop_is_weak(v: Values, n: int | None) -> Value:
    """weak where the drop is less than half of the sound drop, else even."""
    drop, sound = v.number("speed_drop", n), v.number("sound_drop")
    if drop is None or sound is None or sound <= 0:
        return None
    return "weak" if drop < sheet_round(v.constant("weak_drop_share") * sound, 6) else "even"


SPEED_DROP = (
    per_cylinder(
        "drop_is_weak",
        "Weak or even",
        '=IF(COUNT(speed_drop_#,sound_drop)<2,"",IF(sound_drop<=0,"",'
        'IF(speed_drop_#<ROUND({weak_drop_share}*sound_drop,6),"weak","even")))',
        drop_is_weak,
    ),
)

_UPPER = "ROUNDUP(COUNT(all_speed_drop)/2,0)"
BALANCE = (
    Result(
        "sound_drop",
        "Sound drop",
        '=IF(COUNT(all_speed_drop)<3,"",'
        f"(LARGE(all_speed_drop,INT(({_UPPER}+1)/2))+LARGE(all_speed_drop,INT({_UPPER}/2)+1))/2)",
        sound_drop,
        SPEED,
        help="median of the upper half; under half of it a cylinder is weak",
    ),
)
