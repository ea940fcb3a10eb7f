"""Hysteresis: one temperature, one setpoint, one bit of memory.

Lives here: when a zone would like heat or cooling, and the words for it. Does not live
here: minutes, permission, or which probe to believe. Heat and cooling are both armed
all year; the deadband between them is a rule of the settings.

    heat   on at or below setpoint_c, off at or above setpoint_c + hysteresis_k
    cool   on at or above setpoint_c, off at or below setpoint_c - hysteresis_k
"""

from typing import NamedTuple

from greenkeeper.units import shown_c


class Call(NamedTuple):
    on: bool
    reason: str
    urgency_k: float  # how far beyond the setpoint; negative while short of it


def call_for_heat(
    temp_c: float, probe: str, setpoint_c: float, hysteresis_k: float, was_on: bool
) -> Call:
    off_c = setpoint_c + hysteresis_k
    urgency_k = setpoint_c - temp_c
    if temp_c <= setpoint_c:
        return Call(
            True, f"{probe} {shown_c(temp_c)} is at or below {shown_c(setpoint_c)}", urgency_k
        )
    if temp_c >= off_c:
        return Call(
            False, f"{probe} {shown_c(temp_c)} is warm enough, off at {shown_c(off_c)}", urgency_k
        )
    if was_on:
        return Call(True, f"{probe} {shown_c(temp_c)}, warming to {shown_c(off_c)}", urgency_k)
    return Call(False, f"{probe} {shown_c(temp_c)} is above {shown_c(setpoint_c)}", urgency_k)


def call_for_cooling(
    temp_c: float, probe: str, setpoint_c: float, hysteresis_k: float, was_on: bool
) -> Call:
    off_c = setpoint_c - hysteresis_k
    urgency_k = temp_c - setpoint_c
    if temp_c >= setpoint_c:
        return Call(
            True, f"{probe} {shown_c(temp_c)} is at or above {shown_c(setpoint_c)}", urgency_k
        )
    if temp_c <= off_c:
        return Call(
            False, f"{probe} {shown_c(temp_c)} is cool enough, off at {shown_c(off_c)}", urgency_k
        )
    if was_on:
        return Call(True, f"{probe} {shown_c(temp_c)}, cooling to {shown_c(off_c)}", urgency_k)
    return Call(False, f"{probe} {shown_c(temp_c)} is below {shown_c(setpoint_c)}", urgency_k)
