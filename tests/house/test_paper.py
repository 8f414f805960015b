"""Papers are set once: the same one is not set again while it is remembered, nor by several hands at one moment."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Event

import pytest

from studio.house.paper import SetOnce


def test_six_who_ask_for_one_paper_at_one_moment_get_the_one_that_is_set():
    papers, begun, done, times = SetOnce(100), Event(), Event(), []

    def slowly(html: str) -> bytes:
        times.append(html)
        begun.set()
        done.wait(10)
        return b"set: " + html.encode()

    with ThreadPoolExecutor(6) as hands:
        first = hands.submit(papers.paper, "<p>ticket</p>", slowly)
        assert begun.wait(10)
        others = [hands.submit(papers.paper, "<p>ticket</p>", slowly) for _ in range(5)]
        another = papers.paper("<p>label</p>", lambda html: b"another")  # waits for nobody
        done.set()
        assert {one.result() for one in (first, *others)} == {b"set: <p>ticket</p>"}
    assert another == b"another"
    assert times == ["<p>ticket</p>"]
    assert papers.paper("<p>ticket</p>", slowly) == b"set: <p>ticket</p>"
    assert len(times) == 1, "and afterwards too"


def test_what_could_not_be_set_is_tried_anew():
    papers = SetOnce(100)

    def broken(html: str) -> bytes:
        raise ValueError("no font")

    with pytest.raises(ValueError, match="no font"):
        papers.paper("a", broken)
    assert papers.paper("a", lambda html: b"now") == b"now"


def test_the_longest_unasked_is_forgotten_first_and_a_paper_larger_than_all_room_is_given_out():
    papers, set_now = SetOnce(10), []

    def six(html: str) -> bytes:
        set_now.append(html)
        return b"6" * 6

    for html in ("a", "b", "b", "a"):
        papers.paper(html, six)
    assert set_now == ["a", "b", "a"]
    assert papers.paper("wide", lambda html: b"x" * 11) == b"x" * 11
    papers.paper("wide", six)
    assert set_now == ["a", "b", "a", "wide"]
