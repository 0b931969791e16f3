"""Exports of older programs, in the code page of their language, as the tables of Unicode's consortium give it."""

import pytest
from logs_layouts import assert_reads, climate, read, rows_of, write

from tests.composed.words import LANGUAGES

TRUTH = climate(n=60, step="1h")
PAGES = [(code, language.one_byte) for code, language in LANGUAGES.items()]
PAGES += [("ru", "koi8_r"), ("ru", "cp866"), ("fr", "mac_roman"), ("de", "cp850"), ("ja", "euc_jp"), ("zh", "big5")]


@pytest.mark.parametrize(("code", "page"), PAGES)
@pytest.mark.parametrize("unit", ["°C", "C"])
def test_a_file_in_the_code_page_of_its_language_keeps_temperature_and_humidity(tmp_path, code, page, unit):
    words = LANGUAGES[code]
    tried = 0
    for temp in words.temp:
        for rh in words.rh:
            text = "\n".join([f"{words.stamp[0]};{temp} ({unit});{rh} (%)", *rows_of(TRUTH, delimiter=";"), ""])
            try:
                path = write(tmp_path / "a.csv", text, page)
            except UnicodeEncodeError:  # no degree sign in it, or another alphabet
                continue
            assert_reads(read(path), TRUTH)
            tried += 1
    assert tried or unit == "°C" or (code, page) == ("zh", "big5")
