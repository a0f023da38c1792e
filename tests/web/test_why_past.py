"""WHY tells the same earlier readings as the part's story, those of other books among them."""

from dataclasses import replace
from datetime import timedelta

from rehang.trade.life.history import story
from rehang.web.tray.why import why_tag
from tests.trade.cast import Bench, facts


def two_books():
    first = Bench()
    first.read("resistance", "1.1 kohm", "DM", range="20k")
    first.read("resistance", "OL", "DM", range="20k")
    second = Bench()
    second.read("resistance", "1.3 kohm", "DM", range="20k")
    second.entries = [replace(one, at=one.at + timedelta(days=365)) for one in second.entries]
    earlier = first.judged()
    later = second.judged(replace(facts(), job="later"))
    return earlier, later


def test_why_tells_what_the_story_tells():
    earlier, later = two_books()
    tag = why_tag(later, "1T", "resistance", lambda item: story([earlier, later], item, "later"))
    assert tag.last_time == ("1.10, then OL, now 1.30.",)


def test_why_of_an_only_reading_says_there_is_none_before():
    _, later = two_books()
    tag = why_tag(later, "1T", "resistance", lambda item: story([later], item, "later"))
    assert tag.last_time == ("No earlier reading of this plug on file.",)


def test_why_tells_readings_of_this_stay_that_do_not_carry():
    earlier, _ = two_books()
    tag = why_tag(earlier, "1T", "resistance", lambda item: story([earlier], item, "case"))
    assert "1.10" in tag.last_time[0]


def test_why_tells_a_needles_struck_reading_with_its_multiplier():
    bench = Bench()
    slip = bench.read("resistance", "12 ohm", "AN", range="x100")
    bench.read("resistance", "13 ohm", "AN", range="x100")
    bench.write("struck", entry=slip.id, reason="the wrong plug")
    judged = bench.judged()
    tag = why_tag(judged, "1T", "resistance", lambda item: story([judged], item, "case"))
    [struck] = [one.text for one in tag.others if "wrong plug" in one.why]
    assert struck.startswith("1.20 kΩ, ")
