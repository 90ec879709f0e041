"""The words of a page, and a check that none of them is the trace of a missing number."""

import re


def text_of(answer):
    body = re.sub(r"<(script|style)[^>]*>.*?</\1>", "", answer.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", body))


NOT_A_WORD = re.compile(r"\b(NaN|nan|None|null|inf|Infinity|undefined)\b")


def without_nothing(answer):
    assert answer.status_code == 200
    found = NOT_A_WORD.findall(text_of(answer).replace("None has", "").replace("None of these", ""))
    assert [word for word in found if word != "None"] == []
    assert not re.search(r"None (years|to)|£None|: None", text_of(answer))
