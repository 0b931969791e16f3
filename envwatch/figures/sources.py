"""The bibliography: source key -> full reference, with what was and was not seen of it.

A test holds that each key used by a figure or a material stands here, and that each key here is used.
"""

SOURCES: dict[str, str] = {
    "our-judgement": "Our judgement; no publication gives this figure.",
    "common-practice": "Common practice of the trade; no source.",
    "ashrae-fundamentals-2017": (
        "ASHRAE Handbook Fundamentals 2017, chapter 1 Psychrometrics, as implemented by PsychroLib."
    ),
}
