"""What the fuel and air readings give, except the exhaust gas: intake, running mixture, pump.

The starter turns the engine without spark, so the cranking vacuum waits for readiness and compression only;
a cylinder that leaks lowers it too. A running mixture is lean where the vacuum stays below normal at a set
throttle and the choke brings it up. Source: common practice; the published rules they agree with are listed
in docs/sources.md.
"""

from __future__ import annotations

from workbook_tools.form.compression_results import LOW
from workbook_tools.form.summary import PROVEN, is_inside
from workbook_tools.language.measures import DELIVERY, NONE, VACUUM
from workbook_tools.language.model import IN_LIMITS, NEAR_LIMIT, OUT_OF_LIMITS, Limits, Result, Value
from workbook_tools.language.values import Values
from workbook_tools.science.sheet_math import sheet_round

TIGHT, SLOW = "tight", "slow to rise: air leak"
TIGHTENED = "leak at the fastenings: tight now"
STILL_LOW = "still low: manifold or heat riser"
TIGHTEN = "air leak: tighten, read again"
NEAR = "near its limit: read again"
CYLINDER_LOWERS = "; a weak cylinder lowers it too"
NOT_READY = "; readiness and compression first"

CHOKE_NEXT = "below normal: draw the choke slowly"
LEAN = "lean: the choke brings it up"
NOT_LEAN = "below normal, and not by mixture"
NORMAL = "normal"

SECONDS_A_MINUTE = 60


# --- intake --------------------------------------------------------------------------------------------


def cylinder_lowers_vacuum(v: Values, _: int | None) -> Value:
    """'yes' where a low or leaking cylinder lowers the cranking vacuum too."""
    low, leaks = v.count_text("compression_is_low", LOW), v.count_text("mark_leakdown", OUT_OF_LIMITS)
    return "yes" if low + leaks > 0 else None


def intake_word(v: Values, _: int | None) -> Value:
    """What cranking vacuum and retest say of the intake, other systems left aside."""
    first, again = v.text("mark_cranking_vacuum"), v.text("mark_cranking_vacuum_retest")
    slow, retested = (
        v.text("cranking_vacuum_rise") == "slow",
        v.number("margin_cranking_vacuum_retest") is not None,
    )
    first_low = v.number("margin_cranking_vacuum") is not None and not is_inside(v, "cranking_vacuum")
    if retested:
        if again == OUT_OF_LIMITS:
            return STILL_LOW
        if not is_inside(v, "cranking_vacuum_retest"):
            return NEAR
        return TIGHTENED if first_low or slow else TIGHT
    if first == OUT_OF_LIMITS:
        return TIGHTEN
    if slow:
        return SLOW
    if first_low:
        return NEAR
    return TIGHT if is_inside(v, "cranking_vacuum") else None


def intake_says(v: Values, _: int | None) -> Value:
    """The same with what still speaks against believing it."""
    word = v.values.get("intake_word")
    if not isinstance(word, str) or not word:
        return None
    if word in (TIGHT, TIGHTENED):
        return word
    if v.text("cylinder_lowers_vacuum") == "yes":
        return word + CYLINDER_LOWERS
    settled = v.text("state_readiness") == PROVEN and v.text("state_compression") == PROVEN
    return word if settled else word + NOT_READY


INTAKE = (
    Result(
        "intake_says",
        "The intake is",
        f'=IF(OR(intake_word="",intake_word="{TIGHT}",intake_word="{TIGHTENED}"),intake_word,'
        f'intake_word&IF(cylinder_lowers_vacuum="yes","{CYLINDER_LOWERS}",'
        f'IF(AND(state_readiness="{PROVEN}",state_compression="{PROVEN}"),"","{NOT_READY}")))',
        intake_says,
        wide=True,
    ),
    Result(
        "intake_word",
        "Cranking vacuum says",
        f'=IF(COUNT(margin_cranking_vacuum_retest)=1,IF(mark_cranking_vacuum_retest="{OUT_OF_LIMITS}","{STILL_LOW}",'
        f'IF(SUM(margin_cranking_vacuum_retest)<0,"{NEAR}",'
        f'IF(OR(SUM(margin_cranking_vacuum)<0,cranking_vacuum_rise="slow"),"{TIGHTENED}","{TIGHT}"))),'
        f'IF(mark_cranking_vacuum="{OUT_OF_LIMITS}","{TIGHTEN}",IF(cranking_vacuum_rise="slow","{SLOW}",'
        f'IF(SUM(margin_cranking_vacuum)<0,"{NEAR}",IF(COUNT(margin_cranking_vacuum)=1,"{TIGHT}","")))))',
        intake_word,
        working=True,
    ),
    Result(
        "cylinder_lowers_vacuum",
        "A cylinder lowers it",
        f'=IF(COUNTIF(all_compression_is_low,"{LOW}")+COUNTIF(all_mark_leakdown,"{OUT_OF_LIMITS}")>0,"yes","")',
        cylinder_lowers_vacuum,
        working=True,
    ),
)


# --- running mixture -----------------------------------------------------------------------------------


def choke_gain(v: Values, _: int | None) -> Value:
    """Vacuum that the choke brings."""
    running, choked = v.number("running_vacuum"), v.number("running_vacuum_choked")
    return None if running is None or choked is None else sheet_round(choked - running, 6)


def choke_brings_it_up(v: Values, _: int | None) -> Value:
    """Whether the choke raises the vacuum by more than two like readings differ."""
    gain = v.number("choke_gain")
    return None if gain is None else "yes" if gain > v.constant("same_vacuum") else "no"


def running_says(v: Values, _: int | None) -> Value:
    """What running vacuum and choke say of the running mixture."""
    margin, up = v.number("margin_running_vacuum"), v.text("choke_brings_it_up")
    if margin is None:
        return None
    if margin >= 0:
        return NORMAL
    return LEAN if up == "yes" else NOT_LEAN if up == "no" else CHOKE_NEXT


RUNNING = (
    Result(
        "choke_gain",
        "The choke brings",
        '=IF(COUNT(running_vacuum,running_vacuum_choked)<2,"",ROUND(running_vacuum_choked-running_vacuum,6))',
        choke_gain,
        VACUUM,
    ),
    Result(
        "running_says",
        "The running mixture is",
        f'=IF(COUNT(margin_running_vacuum)=0,"",IF(margin_running_vacuum>=0,"{NORMAL}",IF(choke_brings_it_up="yes",'
        f'"{LEAN}",IF(choke_brings_it_up="no","{NOT_LEAN}","{CHOKE_NEXT}"))))',
        running_says,
        wide=True,
    ),
    Result(
        "choke_brings_it_up",
        "Choke brings it up",
        '=IF(COUNT(choke_gain)=0,"",IF(choke_gain>{same_vacuum},"yes","no"))',
        choke_brings_it_up,
        working=True,
    ),
)


# --- fuel pump -----------------------------------------------------------------------------------------


def fuel_delivery_rate(v: Values, _: int | None) -> Value:
    """Fuel delivered in a minute."""
    volume, seconds = v.number("fuel_delivery_volume"), v.number("fuel_delivery_time")
    if volume is None or seconds is None or seconds <= 0:
        return None
    return sheet_round(SECONDS_A_MINUTE * volume / seconds, 6)


def pump_says(v: Values, _: int | None) -> Value:
    """What pressure and delivery say of the fuel pump."""
    pressure, delivery = v.text("mark_fuel_pressure"), v.text("mark_fuel_delivery_rate")
    reading, most = v.number("fuel_pressure"), v.number("high_limit_fuel_pressure")
    if pressure == OUT_OF_LIMITS:
        return (
            "pressure high" if most is not None and reading is not None and reading > most else "pressure low"
        )
    if delivery == OUT_OF_LIMITS:
        return "delivery low"
    return "in order" if pressure in (IN_LIMITS, NEAR_LIMIT) else None


PUMP = (
    Result(
        "fuel_delivery_rate",
        "Fuel delivery",
        '=IF(COUNT(fuel_delivery_volume,fuel_delivery_time)<2,"",IF(fuel_delivery_time<=0,"",'
        f"ROUND({SECONDS_A_MINUTE}*fuel_delivery_volume/fuel_delivery_time,6)))",
        fuel_delivery_rate,
        DELIVERY,
        limits=Limits("spec_fuel_delivery_min"),
    ),
    Result(
        "pump_says",
        "The pump",
        f'=IF(mark_fuel_pressure="{OUT_OF_LIMITS}",IF(IF(COUNT(high_limit_fuel_pressure)=1,'
        'fuel_pressure>high_limit_fuel_pressure,FALSE),"pressure high","pressure low"),'
        f'IF(mark_fuel_delivery_rate="{OUT_OF_LIMITS}","delivery low",'
        f'IF(OR(mark_fuel_pressure="{IN_LIMITS}",mark_fuel_pressure="{NEAR_LIMIT}"),"in order","")))',
        pump_says,
        NONE,
    ),
)
