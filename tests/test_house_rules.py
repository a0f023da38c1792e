"""What the house style asks for and a program can see.

Each rule is a function from a source text to the findings in it, so that it can also be shown
a bad sample: a rule that finds nothing anywhere would otherwise look like a rule that holds.
"""

import ast
import dataclasses
import importlib
import inspect
import pkgutil
import pydoc
import re
import sys
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Annotated, Literal, get_args, get_origin, get_type_hints

import hypothesis
import numpy as np
import pytest

import rehang.calc
from rehang.calc.units import Metres

ROOT = Path(__file__).resolve().parents[1]
SRC = ROOT / "src" / "rehang"
TESTS = ROOT / "tests"


def python_files(*folders: Path) -> list[Path]:
    return sorted(path for folder in folders for path in folder.rglob("*.py"))


def named(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def findings(files: list[Path], rule: Callable[[str], Iterator[str]]) -> list[str]:
    assert files, "The rule looked at no file."
    return [
        f"{named(path)}: {finding}"
        for path in files
        for finding in rule(path.read_text(encoding="utf-8"))
    ]


# ---------------------------------------------------------------- calculations


def public_calculations() -> list[Callable]:
    modules = [
        importlib.import_module(module.name)
        for module in pkgutil.walk_packages(rehang.calc.__path__, "rehang.calc.")
        if "._" not in module.name
    ]
    return [
        function
        for module in modules
        for name, function in inspect.getmembers(module, inspect.isfunction)
        if function.__module__ == module.__name__ and not name.startswith("_")
    ]


NUMBERS = (int, float, complex, np.ndarray, np.generic)


def lacks_unit(hint: object) -> bool:
    """Whether a type holds a number that says nothing of its unit: see ``rehang.calc.units``."""
    origin, arguments = get_origin(hint), get_args(hint)
    if origin is Annotated:
        return not any(isinstance(said, str) for said in arguments[1:]) and lacks_unit(arguments[0])
    if origin is np.ndarray:
        return True
    if origin in (Literal, Callable):
        return False
    if arguments:
        return any(lacks_unit(argument) for argument in arguments)
    return isinstance(hint, type) and issubclass(hint, NUMBERS) and not issubclass(hint, bool)


def without_unit(result: type) -> Iterator[str]:
    """Fields of a result whose unit stands neither in their type nor, in brackets, beside them."""
    source = inspect.getsource(result)
    for name, hint in get_type_hints(result, include_extras=True).items():
        beside = re.search(rf"(?m)^ +{name}: .*\n(?: +#.*\n)*", source)
        if lacks_unit(hint) and not (beside and re.search(r"#[^\[]*\[[^\]]+\]", beside[0])):
            yield name


def heads(function: Callable) -> str:
    """What its module says for all in it, and what the rooms say that the module stands in."""
    path = function.__module__.split(".")
    modules = (".".join(path[:depth]) for depth in range(len(path), 2, -1))
    return "\n".join(inspect.getdoc(sys.modules[name]) or "" for name in modules)


def unknown_names(function: Callable, docstring: str) -> Iterator[str]:
    """What is named in `backquotes` and is neither a parameter nor anything of its room."""
    room = ".".join(function.__module__.split(".")[:3])
    known = {*inspect.signature(function).parameters, *vars(sys.modules[function.__module__])}
    known |= set(vars(sys.modules[room]))
    for name in re.findall(r"(?<![`:])`([A-Za-z_][\w.]*)`(?!`)", docstring):
        if name not in known and (pydoc.locate(name) is None or "." not in name):
            yield name


def published_tests() -> dict[str, str]:
    return {named(path): path.read_text() for path in python_files(TESTS / "published")}


def calculation_findings(function: Callable, tests: dict[str, str]) -> Iterator[str]:
    docstring = inspect.getdoc(function) or ""
    own, shared = docstring, heads(function)
    parameters = inspect.signature(function).parameters
    hints = get_type_hints(function, include_extras=True)
    if not docstring.split("\n", 1)[0].endswith("."):
        yield "its first line is not a sentence"
    if ">>> " not in docstring:
        yield "has no example"
    if re.search(r"(?m)^-{3,}$", docstring):
        yield "says in sections what its signature says"
    for names in re.findall(r"(?m)^([a-z_]\w*(?:, [a-z_]\w*)*): ", docstring):
        yield from (f"describes {n}, not taken" for n in names.split(", ") if n not in parameters)
    yield from (f"names {name}, which is not there" for name in unknown_names(function, docstring))
    yield from (f"gives no unit for {n}" for n in parameters if lacks_unit(hints.get(n, float)))
    result = hints.get("return", float)
    if dataclasses.is_dataclass(result):
        yield from (f"gives no unit for {name} of what it returns" for name in without_unit(result))
    elif lacks_unit(result):
        yield "gives no unit for what it returns"
    if not re.search(r"(?m)^Source: \S", own) and not re.search(r"(?m)^Source: \S", shared):
        yield "names no source"
    checked = r"``(tests/published/\w+\.py)``"
    checked_in = re.findall(checked, own) or re.findall(checked, shared)
    if not checked_in and not re.search(r"No printed value: \S", own):
        yield "names neither a published check nor the reason why there is none"
    for path in checked_in:
        if path not in tests:
            yield f"names {path}, which does not exist"
        elif not re.search(rf"\b{function.__name__}\b", tests[path]):
            yield f"is not used in {path}, which it names"


@pytest.mark.parametrize(
    "function", public_calculations(), ids=lambda f: f"{f.__module__.split('.')[-1]}.{f.__name__}"
)
def test_calculation_says_its_units_its_source_and_its_check(function):
    assert list(calculation_findings(function, published_tests())) == []


def test_a_calculation_without_unit_source_or_check_is_found():
    def area(width: Metres, height: float) -> float:
        """Area of a thing.

        depth: how deep it is, as by `no_such_thing`.

        Checked in ``tests/published/test_nowhere.py``.
        """

    area.__module__ = "rehang.calc.assignment"
    assert list(calculation_findings(area, {})) == [
        "has no example",
        "describes depth, not taken",
        "names no_such_thing, which is not there",
        "gives no unit for height",
        "gives no unit for what it returns",
        "names no source",
        "names tests/published/test_nowhere.py, which does not exist",
    ]


def test_a_result_without_a_unit_is_found():
    @dataclasses.dataclass(frozen=True, slots=True)
    class Slab:
        width: Metres
        height: float  # [m]
        depth: float  # how deep
        name: str

    assert list(without_unit(Slab)) == ["depth"]


def test_published_check_names_its_document():
    # A document has letters and a number (JCGM 100, ISO 14253-1), or its absence is admitted.
    document = re.compile(
        r"\b[A-Z]{2,}[\w/-]*[ -][A-Z]?\d|checkvalues|from memory|worked by hand|no source"
    )
    files = list((TESTS / "published").rglob("test_*.py"))
    assert files
    silent = [
        named(path)
        for path in files
        if not document.search(ast.get_docstring(ast.parse(path.read_text())) or "")
    ]
    assert silent == []


# ---------------------------------------------------------------- the core is a function of values

CLOCKS = {"now", "today", "utcnow", "perf_counter", "monotonic"}


def impure(source: str) -> Iterator[str]:
    """A clock read, or chance that nobody passed in."""
    for node in ast.walk(ast.parse(source)):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
            continue
        called = ast.unparse(node.func)
        owner = called.rsplit(".", 1)[0]
        if node.func.attr in CLOCKS and owner.split(".")[-1] in {"datetime", "date", "time"}:
            yield f"line {node.lineno} reads the clock: {called}()"
        if re.match(r"(np|numpy)\.random\.", called):
            yield f"line {node.lineno} makes chance of its own: {called}()"


def loose(source: str, *, may_change: bool = False) -> Iterator[str]:
    """A dataclass that takes any attribute, or whose values can change."""
    wanted = ["slots=True"] if may_change else ["frozen=True", "slots=True"]
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.ClassDef):
            continue
        for decorator in node.decorator_list:
            text = ast.unparse(decorator)
            if re.match(r"(dataclasses\.)?dataclass\b", text) and not all(
                word in text for word in wanted
            ):
                yield f"line {node.lineno}: {node.name} is without {' and '.join(wanted)}"


CORE = python_files(SRC / "calc", SRC / "trade")


def test_core_reads_no_clock_and_makes_no_chance():
    assert findings(CORE, impure) == []
    assert list(impure("x = datetime.now(UTC)\ny = np.random.default_rng()")) == [
        "line 1 reads the clock: datetime.now()",
        "line 2 makes chance of its own: np.random.default_rng()",
    ]


# The fold goes through the entries once and fills these in; whoever gets them only reads.
FILLED_IN = SRC / "trade" / "known" / "state.py"


def test_values_of_the_core_cannot_change():
    assert findings([path for path in CORE if path != FILLED_IN], loose) == []
    assert findings([FILLED_IN], lambda source: loose(source, may_change=True)) == []
    assert list(loose("@dataclass(frozen=True)\nclass Hole: ...")) == [
        "line 2: Hole is without frozen=True and slots=True"
    ]


# ---------------------------------------------------------------- services


def service_findings(function: Callable) -> Iterator[str]:
    parameters = inspect.signature(function).parameters
    for name, parameter in parameters.items():
        if parameter.kind is not inspect.Parameter.KEYWORD_ONLY:
            yield f"{name} can be given without its name"
    for name in ("by", "at"):
        if name not in parameters:
            yield f"does not take {name}="


def test_services_take_keywords_and_say_who_and_when():
    services = importlib.import_module("rehang.book.services")
    functions = [
        (name, function)
        for name, function in inspect.getmembers(services, inspect.isfunction)
        if function.__module__ == services.__name__ and not name.startswith("_")
    ]
    assert functions
    assert [f"{n}: {finding}" for n, f in functions for finding in service_findings(f)] == []


def test_a_service_without_who_and_when_is_found():
    def strike(job, *, by):
        """Not one of ours."""

    assert list(service_findings(strike)) == [
        "job can be given without its name",
        "does not take at=",
    ]


# ---------------------------------------------------------------- words that people read

# What a laboratory is off by is called so.
BANNED = re.compile(
    r"\b(invalid|(?<!within lab )errors?|please|sorry|illegal|failed|oops)\b", re.IGNORECASE
)


def docstring_nodes(tree: ast.AST) -> set[int]:
    return {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
        and isinstance(node.body[0].value, ast.Constant)
    }


def banned_words(source: str) -> Iterator[str]:
    """Sentences with a word that blames the reader or says nothing.

    A string without a space is a key or a class name and is not looked at.
    """
    tree = ast.parse(source)
    skipped = docstring_nodes(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            # What is written, not the names of the values filled in.
            text = "".join(
                str(v.value) if isinstance(v, ast.Constant) else "_" for v in node.values
            )
            skipped.update(id(value) for value in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            text = node.value
        else:
            continue
        if id(node) not in skipped and " " in text and (word := BANNED.search(text)):
            yield f"line {node.lineno} says {word[0]!r}: {text[:70]!r}"


def test_no_sentence_blames_the_reader():
    layers = ("calc", "trade", "sheets", "book", "paper", "cli", "web", "site")
    assert findings(python_files(*(SRC / layer for layer in layers)), banned_words) == []
    sample = '"""An invalid docstring may say so."""\nx = f"Invalid gap: {invalid}"\ny = "error"'
    assert list(banned_words(sample)) == ["line 2 says 'Invalid': 'Invalid gap: _'"]


def test_no_sheet_blames_the_reader():
    def words(value: object) -> Iterator[str]:
        if isinstance(value, dict):
            value = list(value.values())
        if isinstance(value, list):
            for part in value:
                yield from words(part)
        elif isinstance(value, str) and BANNED.search(value):
            yield value

    files = sorted(SRC.rglob("*.toml"))
    assert files
    bad = [(named(f), text) for f in files for text in words(tomllib.loads(f.read_text("utf-8")))]
    assert bad == []


# ---------------------------------------------------------------- pages

PAGE_RULES = {
    "a number field (spins on a scroll, hides what was typed)": r"""type=["']?number\b""",
    "an address outside": r"https?://",
    "a style attribute": r"""\sstyle\s*=""",
    "a style element": r"<style\b",
    "a script written in the page": r"<script(?![^>]*\bsrc=)[^>]*>",
    "a handler in an attribute": r"""\son[a-z]+\s*=\s*["']""",
    "a word that blames the reader": BANNED.pattern,
}


def page_findings(source: str) -> Iterator[str]:
    text = re.sub(r"{%\s*comment\b.*?%}.*?{%\s*endcomment\s*%}|{#.*?#}", "", source, flags=re.S)
    for what, pattern in PAGE_RULES.items():
        # Code in tags and braces may have any name; words are looked for in what is shown.
        shown = re.sub(r"{%.*?%}|{{.*?}}|<[^>]*>", " ", text) if pattern == BANNED.pattern else text
        for match in re.finditer(pattern, shown, re.IGNORECASE):
            yield f"{what}: {match[0]!r}"


def partial_findings(path: Path) -> Iterator[str]:
    if not path.read_text("utf-8").lstrip().startswith(("{% comment %}", "{#")):
        yield "does not open with what it needs"


def test_pages_stand_alone_and_keep_the_content_policy():
    assert findings(sorted(SRC.rglob("*.html")), page_findings) == []
    bad = '<input type="number" style="x"><script>1</script><p onclick="x">Sorry</p>'
    assert len(list(page_findings(bad))) == 5


def test_partials_open_with_what_they_need():
    partials = sorted(SRC.rglob("_*.html"))
    assert partials
    assert [named(path) for path in partials if list(partial_findings(path))] == []


def test_styles_and_scripts_of_ours_name_no_address():
    files = [
        path for kind in ("*.css", "*.js") for path in SRC.rglob(kind) if "vendor" not in path.parts
    ]
    assert files
    outside = re.compile(r"(?:https?:)?//(?!www\.w3\.org/)[a-z0-9-]+\.[a-z]{2,}", re.IGNORECASE)
    assert [named(path) for path in files if outside.search(path.read_text("utf-8"))] == []


# ---------------------------------------------------------------- tests


def raises_without_match(source: str) -> Iterator[str]:
    for node in ast.walk(ast.parse(source)):
        if (
            isinstance(node, ast.Call)
            and ast.unparse(node.func) in {"raises", "pytest.raises", "pytest.warns", "warns"}
            and not any(keyword.arg == "match" for keyword in node.keywords)
        ):
            yield f"line {node.lineno}: {ast.unparse(node)} has no match="


def silent_tests(source: str) -> Iterator[str]:
    for node in ast.walk(ast.parse(source)):
        if not (isinstance(node, ast.FunctionDef) and node.name.startswith("test_")):
            continue
        asserts = any(
            isinstance(inner, ast.Assert)
            or (
                isinstance(inner, ast.Call)
                and re.search(r"\b(raises|warns|fail|expect|assert\w*)$", ast.unparse(inner.func))
            )
            for inner in ast.walk(node)
        )
        if not asserts:
            yield f"line {node.lineno}: {node.name} asserts nothing"


def test_each_expected_refusal_is_read():
    assert findings(python_files(TESTS), raises_without_match) == []
    assert list(raises_without_match("with pytest.raises(OutOfRange): f()")) == [
        "line 1: pytest.raises(OutOfRange) has no match="
    ]


def test_each_test_asserts_something():
    assert findings(python_files(TESTS), silent_tests) == []
    assert list(silent_tests("def test_runs():\n    run()")) == [
        "line 1: test_runs asserts nothing"
    ]


# ---------------------------------------------------------------- size

MOST = {"module": 600, "function": 60, "class": 15}


def code_lines(node: ast.AST, source: list[str]) -> int:
    """Lines of a function that are neither blank nor a comment nor in a docstring."""
    said: set[int] = set()
    for inner in ast.walk(node):
        if isinstance(inner, ast.FunctionDef | ast.ClassDef) and ast.get_docstring(inner):
            said.update(range(inner.body[0].lineno, inner.body[0].end_lineno + 1))
    return sum(
        1
        for number in range(node.lineno, node.end_lineno + 1)
        if number not in said and re.match(r"\s*[^\s#]", source[number - 1])
    )


def too_large(source: str) -> Iterator[str]:
    lines = source.splitlines()
    if len(lines) > MOST["module"]:
        yield f"has {len(lines)} lines"
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef) and (n := code_lines(node, lines)) > MOST["function"]:
            yield f"line {node.lineno}: {node.name} has {n} lines of code"
        if isinstance(node, ast.ClassDef):
            n = sum(isinstance(inner, ast.AnnAssign) for inner in node.body)
            if n > MOST["class"]:
                yield f"line {node.lineno}: {node.name} has {n} fields"


def test_calculations_are_small_enough_to_read():
    assert findings(python_files(SRC / "calc"), too_large) == []
    long = "def wait():\n" + "    x = 1\n\n    # Not counted.\n" * 60
    wide = "class Wide:\n" + "".join(f"    x{n}: int\n" for n in range(16))
    assert list(too_large(long + wide)) == [
        "line 1: wait has 61 lines of code",
        "line 182: Wide has 16 fields",
    ]
    assert list(too_large("\n" * 601)) == ["has 601 lines"]


# What is longer, and why. A class of many fields declares a file, an entry or a row of a page.
LONGER = {
    "cli/history.py": "register",  # four commands and their help, declared where they are added
    "cli/tables.py": "import_table",  # one step of an import after another
    "paper/archive.py": "_page",  # one page of HTML, from its head to its foot
    "sheets/readings_table.py": "has ",  # one planner, row by row
    "sheets/simulate.py": "has ",  # one shop, told from its first engine to its last service
    "facts/layout.py": "layout_faults",  # one question after another
    "facts/readings.py": "_number",  # each way a number is keyed
    "known/went_in.py": "went_in",  # each way a piece goes in, so that it is counted once
    "life/forecast.py": "_outlook",  # one outlook, a field a line
    "plan/planning.py": "plan_as_json",  # one field a line
    "telling/record.py": "tray_record",  # one field a line
    "terms/entries.py": "entry_from",  # one fault of a line after another
    "verdicts/checks.py": "_call_look",  # each way a look can come out
}


def test_modules_and_functions_are_small_enough_to_read():
    found = [one for one in findings(python_files(SRC), too_large) if not one.endswith(" fields")]
    known = list(LONGER.items())
    assert [one for one in found if not any(p in one and w in one for p, w in known)] == []
    assert [p for p, w in known if not any(p in one and w in one for one in found)] == []


# ---------------------------------------------------------------- files and names


def test_no_module_is_a_drawer_for_anything():
    drawers = {"utils", "util", "helpers", "helper", "common", "manager", "misc"}
    assert [named(path) for path in python_files(SRC) if path.stem in drawers] == []
    assert [named(path) for path in SRC.rglob("*") if path.is_dir() and path.name in drawers] == []


def test_each_folder_with_code_is_a_package():
    folders = {path.parent for path in python_files(SRC)}
    assert [named(f) for f in sorted(folders) if not (f / "__init__.py").exists()] == []


def test_no_work_is_left_for_later_in_a_comment():
    later = re.compile(r"#.*\b(TODO|FIXME|XXX|HACK)\b")
    files = python_files(SRC, ROOT / "bench", ROOT / "scripts")
    assert [named(path) for path in files if later.search(path.read_text("utf-8"))] == []


def dependencies() -> list[str]:
    names = []
    for path in sorted((ROOT / "requirements").glob("*.in")):
        for line in path.read_text().splitlines():
            if match := re.match(r"[A-Za-z][\w.-]*", line):
                names.append(match[0])
    return sorted(set(names))


def test_each_dependency_earns_its_place_in_one_line():
    contributing = (ROOT / "CONTRIBUTING.md").read_text("utf-8")
    said = set(re.findall(r"(?m)^- `([\w.-]+)`: \S", contributing))
    assert sorted(set(dependencies()) - said) == []
    assert sorted(said - set(dependencies())) == []


def test_locks_pin_hashes_and_name_no_host_or_folder():
    for path in (ROOT / "requirements").glob("*.lock"):
        text = path.read_text()
        pins = re.findall(r"(?m)^[\w.-]+==", text)
        assert pins
        assert len(re.findall(r"(?m)^[\w.-]+==\S+(?: ; .*?)? \\\n    --hash=sha256:", text)) == len(
            pins
        ), f"{path.name} has a pin without a hash"
        assert not re.search(r"://|--(?:extra-)?index|--find-links|(?m:^-e )", text), path.name


def test_decisions_are_numbered_and_say_what_was_rejected():
    files = sorted((ROOT / "docs" / "decisions").glob("*.md"))
    assert [int(path.name[:4]) for path in files] == list(range(1, len(files) + 1))
    for path in files:
        text = path.read_text("utf-8")
        assert re.match(rf"# {int(path.name[:4])}\. \S", text), path.name
        assert re.search(r"(?m)^Date: \d{4}-\d\d-\d\d\nStatus: \S", text), path.name
        headings = re.findall(r"(?m)^## (.+)$", text)
        assert headings == ["Context", "Decision", "Consequences", "Rejected"], path.name


def test_glossary_keeps_the_calls_and_the_verdicts():
    glossary = (ROOT / "docs" / "glossary.md").read_text("utf-8")
    words = ["WITHIN", "CLOSE CALL", "OUT", "NOT JUDGED", "NOT READ", "VOID"]
    words += ["KEEP", "REWORK", "REJECT", "NOT YET"]
    assert [word for word in words if f"**{word}**" not in glossary] == []


# ---------------------------------------------------------------- chance


def test_examples_are_the_same_each_time_unless_new_ones_are_asked_for(request):
    """Nobody's first run falls by chance; ``make properties`` draws new examples."""
    drawn = request.config.getoption("--hypothesis-profile") == "drawn"
    assert hypothesis.settings.default.derandomize is not drawn


# ---------------------------------------------------------------- the manual


def test_the_index_of_the_manual_names_each_page():
    docs = ROOT / "docs"
    index = (docs / "README.md").read_text("utf-8")
    pages = [p.relative_to(docs).as_posix() for p in docs.rglob("*.md")]
    kinds = ("tutorial/", "how-to/", "reference/", "explanation/")
    assert [p for p in sorted(pages) if p.startswith(kinds) and f"({p})" not in index] == []
    assert [one for one in re.findall(r"\]\((.*?)\)", index) if not (docs / one).exists()] == []


def twice_in_a_list(text: str, pattern: str) -> list[str]:
    named = re.findall(pattern, text)
    return sorted({one for one in named if named.count(one) > 1})


def test_the_glossary_defines_a_word_once_and_the_changelog_lists_a_thing_once():
    glossary = (ROOT / "docs" / "glossary.md").read_text("utf-8")
    assert twice_in_a_list(glossary, r"(?m)^- \*\*(.+?)\*\*") == []
    changes = (ROOT / "CHANGELOG.md").read_text("utf-8")
    assert twice_in_a_list(changes, r"(?m)^- (.{1,28})") == []
    assert twice_in_a_list("- **gap**: a\n- **gap**: b", r"(?m)^- \*\*(.+?)\*\*") == ["gap"]


def test_each_screen_check_names_tests_that_exist():
    table = (ROOT / "docs" / "reference" / "screen-checks.md").read_text("utf-8")
    every = "\n".join(path.read_text("utf-8") for path in python_files(TESTS))
    named = re.findall(r"`(test_\w+)`", table)
    assert len(named) > 20
    assert [name for name in named if f"def {name}(" not in every] == []


# ---------------------------------------------------------------- templates and styles

WEB = SRC / "web"
# Every word of four letters or fewer that a class may be named by; a longer one is read as a word.
# `ink2` is the name of a colour.
SHORT_WORDS = frozenset(
    re.findall(
        r"\w+",
        "act acts add air also api as ask at away axis back bad band bang bar big book box by "
        "call card cell chip dash day dial do done dot dots down due echo edit eye face few file "
        "fact fill fin find fit flag flat fold foot form free gap go gone good grid grip grow half halo "
        "hand head help here hole hook how icon in ink ink2 item job jobs keep kept key keys last late "
        "lead left less line link list lit live long look mags main mark mono more name nav new "
        "next no none not note now nut off on open out over own pad page pale pan part past "
        "peg pegs pick pin plan plus rail ran read rest ring room row rows rule run said same "
        "says seen set show shut side skip slot spot stem stop sum tag take tall tap task text "
        "thin tick time tip told tool top tray turn two undo unit up view void wait walk was way "
        "ways what when who why whys wide wire word yet ",
    )
)


MOST_COLUMNS = 120


def long_line_findings(text: str) -> Iterator[str]:
    for number, line in enumerate(text.splitlines(), start=1):
        if len(line) > MOST_COLUMNS:
            yield f"line {number} has {len(line)} columns"


def test_lines_of_templates_styles_and_scripts_are_no_longer_than_can_be_read():
    files = [one for kind in ("html", "css", "js") for one in sorted(WEB.rglob(f"*.{kind}"))]
    assert findings(files, long_line_findings) == []


def test_a_line_that_is_too_long_is_found():
    assert list(long_line_findings("<p>\n" + "x" * 120 + "\n" + "x" * 121)) == [
        "line 3 has 121 columns"
    ]


def class_findings(style: str) -> Iterator[str]:
    """Classes whose name is put together of something else than words and numbers."""
    plain = re.sub(r"/\*.*?\*/", "", style, flags=re.DOTALL)
    found = {
        name
        for selector in re.findall(r"[^{};]+(?=\{)", plain)
        for name in re.findall(r"\.([a-zA-Z][\w-]*)", selector)
    }
    for name in sorted(found):
        for part in name.split("-"):
            is_word = re.fullmatch(r"[a-z]{5,}|\d+", part) or part in SHORT_WORDS
            if not is_word:
                yield f'class "{name}" has "{part}" in it, which is no word'


def test_classes_of_the_styles_are_named_by_words():
    assert findings(sorted(WEB.rglob("*.css")), class_findings) == []


def test_a_class_that_is_no_word_is_found():
    style = ".hole-state { } /* .zq { } */ @media (min-width: 1px) { .rr-h:hover, .btn { top: 1.5px; } }"
    assert list(class_findings(style)) == [
        'class "btn" has "btn" in it, which is no word',
        'class "rr-h" has "rr" in it, which is no word',
        'class "rr-h" has "h" in it, which is no word',
    ]


def test_the_walks_of_contributing_lead_to_files_that_are_there():
    text = (ROOT / "CONTRIBUTING.md").read_text("utf-8")
    inside = re.findall(r"`((?:web|book|trade|sheets|calc)/[\w/.-]+)`", text)
    outside = re.findall(r"`((?:tests|docs|scripts)/[\w/.-]+)`", text)
    assert len(inside) > 12
    gone = [one for one in inside if "NAME" not in one and not (SRC / one).exists()]
    assert [*gone, *(one for one in outside if not (ROOT / one).exists())] == []
