"""Who may use each address, entry and command: what is expected, written by hand.

``tests/web/test_who_may.py`` tries each of them as each of five people and holds the answer against
this table; the page docs/reference/who-may-what.md is made from it. Something new has no class here,
and that test fails until it has one.
"""

from __future__ import annotations

# What each class lets through: a stranger (not signed in), somebody signed in who is not of the job,
# a reader of it, a helper, and whoever keeps the shop.
PEOPLE = ("stranger", "outsider", "reader", "helper", "keeper")
CLASSES = {
    "open": ("anyone, signed in or not", "yes yes yes yes yes"),
    "signed in": ("whoever is signed in; it shows only what is theirs", "no yes yes yes yes"),
    "reads": ("whoever is in the job's list of people", "no no yes yes yes"),
    "writes": ("whoever is in the list and does not only read", "no no no yes yes"),
    "decides": (
        "whose papers give the power, with their own PIN at that moment",
        "no no no no yes",
    ),
    "keeps": ("whoever keeps the shop, with their own PIN at that moment", "no no no no yes"),
    "keeps, to see": ("whoever keeps the shop", "no no no no yes"),
}
NONE = ""

# name of the address -> class of reading it, class of posting to it (none: it takes no such thing).
ADDRESSES: dict[str, tuple[str, str]] = {
    "ahead": ("reads", NONE),
    "act": (NONE, "writes"),
    "api": ("signed in", NONE),
    "api-root": ("signed in", NONE),
    "append_entries": ("reads", "writes"),
    "archive_zip": ("reads", NONE),
    "backup": ("keeps, to see", "keeps"),
    "begin": ("open", "open"),
    "bench": ("reads", NONE),
    "bench_pdf": ("reads", NONE),
    "blank_pdf": ("reads", NONE),
    "blockers": ("reads", NONE),
    "board": ("reads", NONE),
    "book": ("reads", NONE),
    "bring_job": ("reads", "writes"),
    "bring_back": (NONE, "keeps"),
    "call_it": (NONE, "decides"),
    "choose_meter": (NONE, "reads"),
    "close_call": ("reads", NONE),
    "code": ("open", "open"),
    "demo": (NONE, "keeps"),
    "draft_pdf": ("reads", NONE),
    "due": ("reads", NONE),
    "due_ics": ("reads", NONE),
    "due_pdf": ("reads", NONE),
    "engine": ("reads", NONE),
    "facts": ("reads", NONE),
    "facts_kind": ("reads", "keeps"),
    "facts_new": ("reads", "keeps"),
    "facts_thing": ("reads", "keeps"),
    "find": ("signed in", NONE),
    "fleet": ("signed in", NONE),
    "fleet_file": ("signed in", NONE),
    "forecast": ("reads", NONE),
    "from_shop": ("reads", "writes"),
    "handover": ("reads", NONE),
    "handover_pdf": ("reads", NONE),
    "help_page": ("open", NONE),
    "home": ("signed in", NONE),
    "item": ("reads", NONE),
    "item_write": ("reads", NONE),
    "let_go": (NONE, "reads"),
    "known_engine": ("reads", "writes"),
    "label": ("signed in", "signed in"),
    "labels_pdf": ("reads", NONE),
    "leave_open": (NONE, "writes"),
    "limit": ("reads", "keeps"),
    "limits": ("reads", NONE),
    "line_keep": (NONE, "writes"),
    "line_preview": (NONE, "reads"),
    "meter": ("reads", "keeps"),
    "meters": ("reads", NONE),
    "mode": (NONE, "open"),
    "new_engine": ("reads", "writes"),
    "new_job": ("reads", NONE),
    "new_layout": (NONE, "signed in"),
    "new_limit": ("reads", "keeps"),
    "new_meter": ("reads", "keeps"),
    "oil": ("reads", "writes"),
    "openapi-json": ("signed in", "signed in"),
    "owner": ("reads", NONE),
    "owner_pdf": ("reads", NONE),
    "paper": ("reads", NONE),
    "parts": ("reads", NONE),
    "people": ("keeps, to see", "keeps"),
    "phone_trust": ("open", NONE),
    "phones": ("open", NONE),
    "photo": ("reads", NONE),
    "photos": ("reads", "writes"),
    "places": ("reads", NONE),
    "plan_calendar": ("reads", NONE),
    "plan_live": ("reads", NONE),
    "plan_pdf": ("reads", NONE),
    "plug": ("reads", NONE),
    "plugs_out": ("reads", "writes"),
    "promise": (NONE, "writes"),
    "put_away": ("reads", "keeps"),
    "put_in": (NONE, "writes"),
    "read": ("reads", "writes"),
    "read_again": (NONE, "reads"),
    "read_back": ("reads", NONE),
    "read_entries": ("reads", "writes"),
    "read_verdicts": ("reads", NONE),
    "record": ("reads", NONE),
    "record_pdf": ("reads", NONE),
    "record_sign": ("reads", "decides"),
    "record_write": (NONE, "writes"),
    "records": ("reads", NONE),
    "rest": ("reads", NONE),
    "rotation": ("reads", NONE),
    "run": ("reads", NONE),
    "run_air": ("reads", NONE),
    "run_begin": (NONE, "writes"),
    "run_drops": ("reads", NONE),
    "run_end": (NONE, "writes"),
    "run_of": ("reads", NONE),
    "run_read": (NONE, "writes"),
    "run_step": (NONE, "writes"),
    "set_password": ("signed in", "signed in"),
    "set_pin": ("signed in", "signed in"),
    "sign_in": ("open", "open"),
    "sign_out": (NONE, "open"),
    "signed": ("reads", NONE),
    "signed_pdf": ("reads", NONE),
    "so_far": ("reads", NONE),
    "story": ("reads", NONE),
    "story_chart": ("reads", NONE),
    "story_pdf": ("reads", NONE),
    "strike": (NONE, "writes"),
    "table_file": ("reads", NONE),
    "tables": ("reads", "writes"),
    "tags_pdf": ("reads", NONE),
    "take_out": (NONE, "writes"),
    "task": ("reads", NONE),
    "task_at_once": (NONE, "writes"),
    "torque": ("reads", NONE),
    "torque_call": (NONE, "decides"),
    "torque_group": ("reads", "writes"),
    "tray": ("reads", NONE),
    "tray_partial": ("reads", NONE),
    "under": (NONE, "reads"),
    "used_at_once": (NONE, "writes"),
    "visits": ("signed in", "signed in"),
    "walk": ("reads", NONE),
    "which_tasks": ("reads", "keeps"),
    "why": ("reads", NONE),
    "why_off": ("reads", NONE),
    "worker": ("open", NONE),
}

# Entries of a book that take more than being in the list, at every door. Strikes: of another person.
ENTRIES: dict[str, str] = {
    "brought_back": "keeps",
    "called": "decides",
    "closed": "decides",
    "closed_short": "decides",
    "complied": "decides",
    "disagreed": "decides",
    "disposed": "decides",
    "drafted": "decides",
    "found_out": "decides",
    "proved": "decides",
    "put_away": "keeps",
    "researched": "decides",
    "second_look": "decides",
    "signed": "decides",
    "struck": "decides",
    "teardown": "decides",
}

# Commands work on folders and on the book of this machine, for whoever may open its data folder (0700).
# Those that write in somebody's name are held to what that person may.
COMMANDS: dict[str, str] = {
    "archive": "machine",
    "backup": "machine",
    "bench": "machine",
    "check": "machine",
    "completion": "machine",
    "demo": "machine",
    "drill": "machine",
    "due": "machine",
    "export": "machine",
    "forecast": "machine",
    "import": "by",
    "layout": "machine",
    "lives": "machine",
    "load": "by",
    "parts": "machine",
    "pin": "keeps",
    "plan": "machine",
    "print": "machine",
    "rebuild": "machine",
    "record": "machine",
    "restore": "machine",
    "rotation": "machine",
    "salvage": "machine",
    "save": "machine",
    "seal": "machine",
    "serve": "machine",
    "sheet": "machine",
    "simulate": "machine",
    "story": "machine",
    "verify": "machine",
}


def page() -> str:
    """The page of the manual, in Markdown."""
    heads = "| " + " | ".join(("Class", "Who", *PEOPLE)) + " |"
    rows = [heads, "| --- " * (len(PEOPLE) + 2) + "|"]
    for name, (words, lets) in CLASSES.items():
        rows.append(f"| {name} | {words} | " + " | ".join(lets.split()) + " |")
    lines = ["# Who may what", "", "Made from the table that a test tries at every address, as each of these people.",
             "", *rows, "", "## Addresses", "", "| Address | To look | To send |", "| --- | --- | --- |"]  # fmt: skip
    lines += [
        f"| {name} | {get or '-'} | {post or '-'} |" for name, (get, post) in ADDRESSES.items()
    ]
    lines += ["", "## Entries", "", "Every other kind of entry is written by whoever writes.", "",
              "| Entry | Class |", "| --- | --- |"]  # fmt: skip
    lines += [f"| {kind} | {which} |" for kind, which in ENTRIES.items()]
    lines += [
        "",
        "`second_look` takes the power `look`, `signed` the power `approve` or `inspect`, the others "
        "`decide`. A closed finding takes it from severity 2 on; words of a record, where they leave a "
        "sentence out; a strike, where another person wrote the line and it is more than a note.",
        "",
        "## Commands",
        "",
        "`machine`: for whoever may open the data folder, which is its owner's alone. `by`: in the name "
        "that `--by` gives, held to what that person may. `keeps`: only for a person who keeps the shop.",
        "",
        "| Command | Class |",
        "| --- | --- |",
    ]
    lines += [f"| {name} | {which} |" for name, which in COMMANDS.items()]
    return "\n".join(lines) + "\n"
