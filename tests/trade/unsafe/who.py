"""People who settle what their papers do not let them settle."""

from __future__ import annotations

from typing import Any

from rehang.trade.papers.signing import sha256_of

from ..finished import Case, Change, Finished

# What a person with papers for it has to be named as, by whoever refuses.
MARTA = "Marta Oduya has."


def _signs(job: Finished, what: str, by: str, name: str, certificate: str, kind: str) -> None:
    job.add(
        "signed",
        by=by,
        what=what,
        text="As signed.",
        sha256=sha256_of("As signed."),
        name=name,
        certificate=certificate,
        certificate_kind=kind,
    )


def _helper_signs(what: str) -> Any:
    return lambda job: _signs(job, what, "tom", "Tom Ferrick", "none", "student")


def _typed_certificate(job: Finished) -> None:
    _signs(job, "maintenance", "marta", "Marta Oduya", "DEMO-999", "mechanic")


def _typed_name(job: Finished) -> None:
    _signs(job, "maintenance", "marta", "Ilse Karr", "DEMO-114", "mechanic")


def _helper_keeps_a_cracked_plug(job: Finished) -> None:
    job.add("disagreed", by="tom", item="plug:L0412", verdict="KEEP", reason="looks good to me")


def _helper_keeps_a_dropped_plug(job: Finished) -> None:
    dropped = job.add("dropped", item="plug:L0418")
    job.add(
        "disagreed",
        by="tom",
        after=dropped,
        item="plug:L0418",
        verdict="KEEP",
        reason="fell on the rubber mat",
    )


def _burnt_valve_closed(job: Finished, by: str, reason: str) -> None:
    seen = job.add("seen", item="cylinder:3", check="look", word="burnt", severity=3)
    job.add("closed", by=by, after=seen, finding=seen["id"], reason=reason)


def _helper_complies(recurring: str) -> Any:
    def change(job: Finished) -> None:
        job.add("complied", by="tom", recurring=recurring, on="2026-11-12", hours=925.2)

    return change


def _helper_closes_short(task: str) -> Any:
    def change(job: Finished) -> None:
        job.add("closed_short", by="tom", task=task, reason="done by feel, all tight")

    return change


def _by_tom(kind: str, **fields: Any) -> Any:
    def change(job: Finished) -> None:
        job.last(kind, **fields)["by"] = "tom"

    return change


def _under(by: str, under: str) -> Any:
    def change(job: Finished) -> None:
        torque = job.last("torqued", task="H5")
        torque["by"], torque["under"] = by, under

    return change


def _supervised_by_a_helper(job: Finished) -> None:
    job.files["people.toml"] += '\n[[person]]\nkey = "bob"\nname = "Bob Lund"\nrole = "helper"\n'
    _under("tom", "bob")(job)


def _doer_looks(job: Finished) -> None:
    job.replace("people.toml", 'name = "Marta Oduya"', 'name = "Marta Oduya"\nsecond_look = true')
    job.last("second_look", task="H5")["by"] = "marta"


def _paper_ran_out(job: Finished) -> None:
    text = 'number = "DEMO-114"\nauthority = "Demo authority (invented)"\n'
    job.replace("people.toml", text, f"{text}valid_until = 2026-10-20\n")


def _look_paper_ran_out(job: Finished) -> None:
    job.replace("people.toml", "second_look = true\n", "")
    job.replace("people.toml", "valid_until = 2026-12-31", "valid_until = 2026-11-09")


def _paper_put_in_later(job: Finished) -> None:
    job.replace(
        "people.toml",
        'role = "helper"\n',
        'role = "helper"\n\n[[person.certificate]]\nkind = "mechanic"\nnumber = "DEMO-500"\n'
        'authority = "Demo authority (invented)"\nentered_on = 2026-11-20\n',
    )
    job.last("closed_short", task="C4")["by"] = "tom"


def _nobody_has_papers(job: Finished) -> None:
    first, _, rest = job.files["people.toml"].partition("[[person.certificate]]")
    kept = rest.partition("[[person]]")[2].replace("valid_until = 2026-12-31\n", "")
    job.files["people.toml"] = f"{first}[[person]]{kept}"


def _helper_strikes(job: Finished) -> None:
    seen = job.add("seen", item="cylinder:3", check="look", word="scored", severity=3)
    job.add("struck", by="tom", after=seen, entry=seen["id"], reason="I do not see it")


def _reason(kind: str, reason: str) -> Any:
    def change(job: Finished) -> None:
        job.last(kind)["reason"] = reason

    return change


def _people(old: str, new: str) -> Change:
    return lambda job: job.replace("people.toml", old, new)


CASES = [
    Case(
        "one certificate under two names",
        _people("DEMO-S2", "DEMO-114"),
        "marta and ilse have the certificate number DEMO-114",
    ),
    Case(
        "one name under two keys",
        _people("Ilse Karr", "marta  oduya"),
        "marta and ilse have the name",
    ),
    Case(
        "a limit put in by a helper",
        lambda job: job.replace("limits.toml", 'entered_by = "marta"', 'entered_by = "tom"'),
        "Tom Ferrick put in a limit for plug look, and does not keep the shop",
    ),
    Case("a helper signs the maintenance entry", _helper_signs("maintenance"), MARTA),
    Case("a helper signs the annual", _helper_signs("inspection"), MARTA),
    Case("a helper signs the list of discrepancies", _helper_signs("discrepancies"), MARTA),
    Case("a certificate that was typed", _typed_certificate, "mechanic DEMO-999 certificate"),
    Case("a name that was typed", _typed_name, 'The signature says "Ilse Karr"'),
    Case("a helper overrides a cracked plug to KEEP", _helper_keeps_a_cracked_plug, MARTA),
    Case("a helper overrides a dropped plug to KEEP", _helper_keeps_a_dropped_plug, MARTA),
    Case(
        "a helper closes a burnt valve with ok",
        lambda job: _burnt_valve_closed(job, "tom", "ok"),
        "Tom Ferrick has no paper on file to close a finding of severity 2 or 3.",
    ),
    Case(
        "a mechanic closes a burnt valve with ok",
        lambda job: _burnt_valve_closed(job, "marta", "ok"),
        '"ok" is too little to stand on the record.',
    ),
    Case(
        "a closing whose reason is invisible",
        lambda job: _burnt_valve_closed(job, "marta", " \u200b\ufeff\u2800"),
        "Write the reason: what was seen, and what was done.",
    ),
    Case("a task closed short with ok", _reason("closed_short", "ok ok ok"), "is too little"),
    Case("a helper declares the annual done", _helper_complies("annual"), MARTA),
    Case("a helper declares a directive done", _helper_complies("muffler"), MARTA),
    Case("a helper closes the mount bolts short", _helper_closes_short("G1"), MARTA),
    Case("a helper closes the propeller short", _helper_closes_short("H5"), MARTA),
    Case("a helper closes the filter torque short", _helper_closes_short("G4"), MARTA),
    Case("a helper closes the count-in short", _helper_closes_short("H6"), MARTA),
    Case("a helper says what becomes of a reject", _by_tom("disposed"), MARTA),
    Case("a helper lets an as-found check count", _by_tom("proved"), MARTA),
    Case("a helper gives a second look", _by_tom("second_look"), "Ilse Karr has."),
    Case("a helper strikes a mechanic's finding", _helper_strikes, MARTA),
    Case("a doer gives the look", _doer_looks, "no second look yet at the propeller bolts"),
    Case("a mechanic's paper ran out", _paper_ran_out, "DEMO-114 was good to 20 Oct 2026"),
    Case("a looker's paper ran out", _look_paper_ran_out, "DEMO-S2 was good to 9 Nov 2026"),
    Case("a paper put in later", _paper_put_in_later, "was put on file on 20 Nov 2026"),
    Case("nobody has papers", _nobody_has_papers, "Nobody in the list of people has papers"),
    Case(
        "a helper torques with nobody by",
        _by_tom("torqued", task="H5"),
        "Tom Ferrick has no paper on file to torque alone.",
    ),
    Case(
        "a helper torques under a person unknown",
        _under("tom", "bob"),
        '"bob" is not in the list of people.',
    ),
    Case(
        "a helper torques under another helper",
        _supervised_by_a_helper,
        "Bob Lund has no paper on file to supervise torque. Marta Oduya and Ilse Karr have.",
    ),
    Case("a helper torques under himself", _under("tom", "tom"), "Nobody supervises themselves."),
    Case(
        "a mechanic torques under a helper",
        _under("marta", "tom"),
        "Tom Ferrick has no paper on file to supervise work.",
    ),
]
