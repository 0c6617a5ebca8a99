"""The plan of the house, checked by machine: who may import whom, what every piece must state."""

from __future__ import annotations

import ast
import inspect
import pathlib
import re
from collections.abc import Callable

import pytest
from django.apps import apps
from django.core.exceptions import FieldDoesNotExist

import sizing

ROOT = pathlib.Path(__file__).resolve().parent.parent
APPS = ["config", "common", "jobs", "checklists", "sizing"]
WEB_SIDE = {"django", "config", "jobs", "checklists", "common", "weasyprint"}
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "CHANGELOG.md", "manage.py", "pyproject.toml", "config", "common", "jobs",
    "sizing", "checklists", "templates", "static", "tests", "fixtures",
}  # fmt: skip


def sources(*folders: str) -> list[pathlib.Path]:
    """Return our Python files below these folders, migrations left out."""
    found = [path for folder in folders for path in (ROOT / folder).rglob("*.py")]
    return sorted(path for path in found if "migrations" not in path.parts)


def short(path: pathlib.Path) -> str:
    """Return a path as a test id."""
    return str(path.relative_to(ROOT))


def imports(path: pathlib.Path) -> set[str]:
    """Return the dotted names a file imports, anywhere in it."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
    return names


def for_each(paths: list[pathlib.Path]) -> Callable[[Callable[[pathlib.Path], None]], Callable[[], None]]:
    """Return a decorator that asks one question of many files and names every file that fails it."""

    def decorate(question: Callable[[pathlib.Path], None]) -> Callable[[], None]:
        def test() -> None:
            wrong = {}
            for path in paths:
                try:
                    question(path)
                except AssertionError as failure:
                    wrong[short(path)] = str(failure)
            assert not wrong, wrong

        return test

    return decorate


@for_each(sources("sizing"))
def test_sizing_imports_nothing_from_the_web_side(path):
    assert WEB_SIDE.isdisjoint({name.split(".")[0] for name in imports(path)})


@for_each(sources("config", "jobs", "checklists"))
def test_apps_use_only_the_face_of_sizing(path):
    assert not [name for name in imports(path) if name.startswith("sizing.")]


@for_each(sources("jobs"))
def test_jobs_never_import_checklists(path):
    assert not [name for name in imports(path) if name.split(".")[0] in {"checklists", "config"}]


def test_only_one_file_imports_the_pdf_library():
    assert [
        short(path) for path in sources(*APPS) if "weasyprint" in {n.split(".")[0] for n in imports(path)}
    ] == ["common/pdf.py"]


def test_only_settings_read_the_environment():
    allowed = {"config/settings.py", "config/wsgi.py", "config/deploy/gunicorn.py", "manage.py"}
    readers = [
        short(path) for path in sources(*APPS) if re.search(r"os\.environ|os\.getenv", path.read_text())
    ]
    assert set(readers) <= allowed


ASKS_THE_CLOCK = re.compile(
    r"(.+\.)?(timezone\.now|datetime\.(now|today|utcnow)|date\.today|local(time|date)\(\))"
    r"|time\.(time|monotonic|perf_counter|process_time)(_ns)?"
    r"|from (time|django\.utils\.timezone) import .+"
)
#: A view and a command stand where somebody asks.
MAY_ASK_THE_CLOCK = {"views", "management"}


def clocks_asked(source: str) -> list[str]:
    """Return where a file asks what time it is; a task may hand on ``clock=timezone.now``, uncalled."""
    nodes = list(ast.walk(ast.parse(source)))
    tasks = [
        node
        for node in nodes
        if isinstance(node, ast.FunctionDef)
        and any(re.match(r"task\b", ast.unparse(one)) for one in node.decorator_list)
    ]
    handed_on = {
        id(node.value)
        for task in tasks
        for node in ast.walk(task)
        if isinstance(node, ast.keyword) and node.arg == "clock"
    }
    return [
        f"{node.lineno}: {ast.unparse(node)}"
        for node in nodes
        if isinstance(node, ast.Attribute | ast.Call | ast.ImportFrom)
        and id(node) not in handed_on
        and ASKS_THE_CLOCK.fullmatch(ast.unparse(node))
    ]


@for_each(
    [
        path
        for path in sources("jobs", "checklists", "common", "sizing")
        if MAY_ASK_THE_CLOCK.isdisjoint(path.relative_to(ROOT).parts)
    ]
)
def test_below_the_view_nobody_asks_the_clock(path):
    assert clocks_asked(path.read_text()) == []


@pytest.mark.parametrize(
    ("source", "asks"),
    [
        ("at = timezone.now()", True),
        ("at = django.utils.timezone.now()", True),
        ("at = dt.datetime.now(dt.UTC)", True),
        ("day = dt.date.today()", True),
        ("day = timezone.localdate()", True),
        ("day = timezone.localdate(at)", False),
        ("began = time.monotonic()", True),
        ("from time import perf_counter", True),
        ("at = models.DateTimeField(default=timezone.now)", True),
        ("def work():\n    do(clock=timezone.now)", True),
        ("@task\ndef work():\n    do(clock=timezone.now)", False),
        ("@task(priority=50)\ndef work():\n    do(clock=timezone.now)", False),
        ("@task\ndef work():\n    do(clock=timezone.now())", True),
        ("@task\ndef work():\n    do(at=timezone.now)", True),
    ],
)
def test_asking_the_clock_is_seen_in_every_form(source, asks):
    assert bool(clocks_asked(source)) is asks


@for_each(sources(*APPS))
def test_every_module_says_what_it_knows(path):
    text = path.read_text()
    assert not text.strip() or ast.get_docstring(ast.parse(text)), (
        "a module starts with a line on what it knows"
    )


@for_each(sources(*APPS))
def test_modules_and_functions_stay_small(path):
    tree = ast.parse(path.read_text())
    # A compiled kernel is one loop nest: cutting it up costs the speed it exists for.
    longest = 100 if path.name.startswith("kernel_") else 60
    assert len(path.read_text().splitlines()) <= 520
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            doc = len((ast.get_docstring(node) or "").splitlines())
            assert node.end_lineno - node.lineno - doc <= longest, f"{node.name} is too long to read at once"


@pytest.mark.parametrize("name", [n for n in sizing.__all__ if inspect.isfunction(getattr(sizing, n, None))])
def test_every_function_on_the_face_states_unit_and_source(name):
    doc = inspect.getdoc(getattr(sizing, name)) or ""
    assert "[" in doc, "a unit in square brackets"
    for part in ("Parameters", "Returns", "Raises", "References"):
        assert f"{part}\n{'-' * len(part)}" in doc, part


@pytest.mark.parametrize(
    "model", [m for label in ("jobs", "checklists") for m in apps.get_app_config(label).get_models()],
    ids=lambda model: model.__name__,
)  # fmt: skip
def test_every_record_finds_its_shop(model):
    if model.__name__.startswith("Design_") or model._meta.auto_created:
        return
    step = model
    for part in model.shop_path.split("__"):
        if part == "pk":
            break
        try:
            step = step._meta.get_field(part).related_model
        except FieldDoesNotExist:
            pytest.fail(f"{model.__name__}.shop_path names {part}, which is not there")
    assert step.__name__ == "Shop"
    assert hasattr(model.objects, "visible_to")


TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))


@for_each(TEMPLATES)
def test_templates_hold_no_inline_script_or_style(path):
    text = path.read_text()
    assert not re.search(r"\sstyle=", text), "the policy strips style attributes"
    assert not re.search(r"<style", text)
    assert not re.search(r"\son[a-z]+=", text), "no inline handlers"
    for tag in re.findall(r"<script[^>]*>", text):
        assert "src=" in tag or "application/json" in tag


@for_each(TEMPLATES)
def test_templates_stay_small(path):
    assert len(path.read_text().splitlines()) <= 160


SCRIPTS = sorted((ROOT / "static" / "js").rglob("*.js"))


@for_each(SCRIPTS)
def test_every_script_says_what_it_is_for(path):
    assert path.read_text().startswith("// "), "a script starts with a line on what it does"


@for_each([path for path in SCRIPTS if path.parent.name != "catalog"])  # those are made by a program
def test_script_lines_fit_the_width(path):
    """The formatter leaves long comments and sentences as they are."""
    assert not [line for line in path.read_text().splitlines() if len(line) > 110]


TWINS = ["as_built", "entries", "fields", "hand_over", "holds", "install", "judging", "readings", "reducer"]


@pytest.mark.parametrize("name", [*TWINS, "seals"])
def test_a_rule_of_the_tablet_has_the_name_of_its_twin(name):
    assert (ROOT / "static" / "js" / "tablet" / "rules" / f"{name}.js").is_file()
    assert (ROOT / "checklists" / "rules" / f"{name}.py").is_file()


def ring_of(wanted: dict[pathlib.Path, set[pathlib.Path]]) -> list[str]:
    """Return the files of rings, and those between two rings, given what each file imports."""
    left = {path: {name for name in names if name in wanted} for path, names in wanted.items()}
    while free := {path for path, names in left.items() if not names} | (
        set(left) - set().union(*left.values())
    ):
        left = {path: names - free for path, names in left.items() if path not in free}
    return sorted(map(short, left))


def test_no_script_modules_import_one_another_in_a_ring():
    """A ring has no hashed names: the static files of a release could not be made."""
    assert not ring_of(
        {
            path: {
                (path.parent / name).resolve() for name in re.findall(r'from "(\.[^"]+)"', path.read_text())
            }
            for path in SCRIPTS
        }
    )


def file_of(dotted: str) -> pathlib.Path | None:
    """Return the file of one of our modules."""
    place = ROOT.joinpath(*dotted.split("."))
    return next((path for path in (place.with_suffix(".py"), place / "__init__.py") if path.is_file()), None)


def files_imported(path: pathlib.Path) -> set[pathlib.Path]:
    """Return our files that a file imports anywhere in it, inside functions and for types only included."""
    found: set[pathlib.Path | None] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found.update(file_of(alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            modules = {file_of(f"{node.module}.{alias.name}") for alias in node.names}
            found |= modules if None not in modules else {*modules, file_of(node.module)}
    return {path for path in found if path is not None}


def test_no_python_modules_import_one_another_in_a_ring():
    """An import inside a function hides a ring from Python, not from the next reader."""
    assert not ring_of({path: files_imported(path) for path in sources(*APPS)})


GUIDES = [path for path in ROOT.rglob("*.md") if not any(part.startswith(".") for part in path.parts)]
A_FILE = re.compile(r"`([\w./]+\.(?:py|js|json|html|md)|[\w.]+(?:/[\w.]+)*/)(?::[^`]*)?`")


@for_each([path for path in GUIDES if path.name != "CHANGELOG.md"])
def test_guides_name_files_that_are_there(path):
    """A guide names a file from the top of the project, from its own folder, or by its name alone."""
    named = set(A_FILE.findall(path.read_text()))
    known = {one.name for one in [*sources(*APPS, "tests"), *SCRIPTS]}
    places = (ROOT, path.parent, *(ROOT / "static" / "js" / app for app in ("workspace", "tablet")))
    assert not {n for n in named if n not in known and not any((top / n).exists() for top in places)}


def test_a_lock_says_of_which_table():
    """PostgreSQL refuses to lock a row that may be missing from a join, and locks the shop for everybody."""
    locks = re.compile(r"select_for_update\(\)[\s.\w()=\"',]{0,200}?select_related\(")
    assert not [short(path) for path in sources(*APPS) if locks.search(path.read_text())]


def test_the_guide_can_be_read_in_ten_minutes():
    assert len((ROOT / "DEVELOPERS.md").read_text().splitlines()) <= 150


def test_the_top_level_is_the_agreed_one():
    import subprocess

    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    top = {line.split("/")[0] for line in listed.splitlines()}
    assert {name for name in top if not name.startswith(".")} <= TOP_LEVEL


# Written in pieces so that this file does not trip over itself.
FORBIDDEN = [
    "tra" + "de.md", "sty" + "le.md", "sta" + "ck.md", "dos" + "sier", "worked_" + "examples.md",
    "/wo" + "rk/", "/ro" + "ot/", "trans" + "cript",
]  # fmt: skip


def test_nothing_names_where_the_project_came_from():
    import subprocess

    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    bad = []
    for line in listed.splitlines():
        path = ROOT / line
        if (
            path.suffix in {".npz", ".woff2", ".gz", ".png", ".js", ".css"}
            or "vendor" in path.parts
            or not path.is_file()
        ):
            continue
        text = path.read_text(errors="ignore")
        bad += [f"{line}: {word}" for word in FORBIDDEN if word in text]
    assert not bad


def test_vendored_files_are_those_that_were_listed() -> None:
    import hashlib

    folder = ROOT / "static" / "vendor"
    rows = [line.split(" | ") for line in (folder / "VENDOR.md").read_text().splitlines() if "." in line]
    listed = {row[-2]: row[-1].strip(" |") for row in rows if len(row) == 5 and row[-1][0] not in "S-"}
    found = {name: hashlib.sha256((folder / name).read_bytes()).hexdigest() for name in listed}
    assert len(listed) >= 15
    assert found == listed
    code = {str(path.relative_to(folder)) for ext in ("js", "wasm") for path in folder.rglob(f"*.{ext}")}
    assert code <= set(listed)
