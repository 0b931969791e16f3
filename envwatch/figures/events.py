"""What makes an event of a room, and by how much two loggers of one room may part. All of it our judgement."""

from envwatch.core.quantities import Confidence, Figure


def _ours(value: float, unit: str, note: str) -> Figure:
    return Figure(value, unit, "our-judgement", Confidence.OUR_JUDGEMENT, note)


LEAP_WITHIN_H = _ours(24, "h", "a change that takes longer is a course, not a leap")
LEAP_MOST = _ours(0.8, "share of the change", "it is told by the shortest time in which so much of it came")
LEAP_RH = _ours(15, "% RH", "a smaller change within a day is weather, heating or people")
LEAP_C = _ours(5, "°C", "the same of temperature")
STEADY_RH = _ours(2, "% RH", "by vapour: less is the sensors' noise and a room's breathing")
LEAP_TIMES = _ours(2, "times", "as much as the room's usual day: a radiator's own rhythm is no leap")
LEADS_H = _ours(
    72, "h", "by how much its air may have leapt before the first finding, a canvas follows with a lag, or after"
)
COURSE_DAYS = _ours(30, "d", "before the first finding, from the best day of which a slow course is told")

APART_RH = _ours(2, "% RH", "beyond both sensors' limits of error: a room's own unevenness")
APART_C = _ours(0.5, "°C", "the same of temperature: shelf and floor of one room")
APART_H = _ours(24, "h", "so long they must part: a door, the sun, a shower do not count")
