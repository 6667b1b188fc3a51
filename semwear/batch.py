"""Many pictures: the same function mapped over files, in several processes, so that a run can be stopped and go on.

Each field that is done leaves a record in the results folder with what it rests on: checksum of the picture and its
sidecar texts, settings, plan row, model and version. A field whose record still fits isn't measured again.
"""

import concurrent.futures
import contextlib
import hashlib
import os
import platform
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures.process import BrokenProcessPool
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from functools import lru_cache
from importlib import metadata
from multiprocessing import get_context
from pathlib import Path

from semwear import __version__, results
from semwear.copies import PICTURE_ID, PicturePrint, mark_copies, picture_ids
from semwear.errors import ResultsError
from semwear.measure import empty_row
from semwear.pipeline import Settings, default_model, measure_file
from semwear.plan import Plan, PlannedField, read_plan
from semwear.read import find_pictures
from semwear.remarks import remarks_of
from semwear.results import FieldFiles
from semwear.terms import FIELD_COLUMNS, REGION_COLUMNS

ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMEXPR_NUM_THREADS"), "1")
"""Environment of the worker processes: each keeps to one core, so that they don't stand in each other's way."""
PACKAGES = ("numpy", "scipy", "opencv-python-headless", "scikit-image", "torch", "onnxruntime", "rapidocr", "tifffile")


@dataclass(frozen=True, kw_only=True)
class Task:
    """One picture to be measured: where it is, its name in the tables, where its files go, and what it rests on."""

    path: Path
    file: str
    out: Path
    files: FieldFiles
    settings: Settings
    planned: PlannedField
    model_sha256: str


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What became of one task: its row, its regions, the network's precision, what tells its picture from others (None for a
    refused one), whether an earlier run's record was kept."""

    row: dict
    regions: tuple[dict, ...] = ()
    precision: str = ""
    picture: PicturePrint | None = None
    kept: bool = False


@dataclass(frozen=True, kw_only=True)
class Batch:
    """A finished or interrupted run: rows in the order of the pictures, run.json's content, and remarks for the user.

    ``absent``: the one of the remarks that names planned pictures which aren't there, empty where all are.
    """

    rows: list[dict]
    run: dict
    remarks: tuple[str, ...]
    absent: str = ""

    @property
    def measured(self) -> int:
        return sum(row["status"] == "measured" for row in self.rows)

    @property
    def refused(self) -> int:
        return len(self.rows) - self.measured

    @property
    def complete(self) -> bool:
        return self.run["complete"]


def measure_files(
    paths: Sequence[str | Path],
    out: str | Path,
    *,
    plan: Plan | str | Path | None = None,
    settings: Settings | None = None,
    workers: int = 1,
    on_field: Callable[[Outcome, int], None] | None = None,
) -> Batch:
    """Measure every picture under ``paths`` and write the results folder ``out``.

    Folders are walked; one picture is one row, refused ones too. ``plan``: a plan, or the path of one. ``workers``:
    number of processes; with 1 all runs in the calling process (with more, a script must guard its entry point with
    ``if __name__ == "__main__"``). ``on_field(outcome, total)`` is called after each field.

    A KeyboardInterrupt ends the run early: the fields that are done are written and ``complete`` is False; the same
    call goes on from there. Raises ResultsError when the results folder can't be written or no picture was found, and
    PlanError and ModelError for a plan or model that can't be used.
    """
    started = time.time()
    settings, out = settings or Settings(), Path(out)
    plan = read_plan(plan) if isinstance(plan, (str, Path)) else plan
    _check_out(out, paths)
    found = [(path, file) for path, file in named_pictures(paths) if not _is_inside(path, out)]
    if not found:
        where = ", ".join(str(path) for path in paths) or "no path"
        raise ResultsError(
            f"{where}: no picture found; name pictures, or folders that hold some (TIFF, PNG, JPEG, BMP, JPEG 2000)"
        )
    model = _model_facts(settings)
    names = results.field_files([file for _, file in found])
    planned = plan.fields_for([file for _, file in found]) if plan else {}
    tasks = [
        Task(
            path=path,
            file=file,
            out=out,
            files=names[file],
            settings=settings,
            planned=planned.get(file, PlannedField(file=file)),
            model_sha256=model.get("sha256", ""),
        )
        for path, file in found
    ]
    outcomes: dict[str, Outcome] = {}
    complete = True
    try:
        for outcome in _outcomes(tasks, workers):
            outcomes[outcome.row["file"]] = outcome
            if on_field is not None:
                on_field(outcome, len(tasks))
    except KeyboardInterrupt:
        complete = False
    done = [(task, outcomes[task.file]) for task in tasks if task.file in outcomes]
    rows = _final_rows(done, settings)
    run = _run_facts(
        done, rows, paths, plan, settings, model, started, complete=complete, workers=workers, total=len(tasks)
    )
    remarks = remarks_of(tasks, rows, plan, out)
    run["remarks"] = [remark.text(most=None) for remark in remarks]
    _write_all(out, done, rows, run)
    return Batch(
        rows=rows,
        run=run,
        remarks=tuple(remark.text() for remark in remarks),
        absent=next((remark.text() for remark in remarks if remark.on_absent), ""),
    )


def named_pictures(paths: Sequence[str | Path]) -> list[tuple[Path, str]]:
    """Return every picture under ``paths`` with the name that its row carries.

    The name is the path as given; of absolute paths the folder that holds all that was given is left out, so that
    ``/data/june/session`` gives ``session/a.tif`` as ``session`` gives it inside ``/data/june``.
    """
    pictures = find_pictures(paths)
    roots = {Path(path).parent for path in paths if Path(path).is_absolute()}
    try:
        root = os.path.commonpath(roots) if roots else None
    except ValueError:  # several drives
        root = None
    names = [
        path.relative_to(root).as_posix() if root and path.is_absolute() and path != Path(root) else file
        for path, file in pictures
    ]
    if len(set(names)) < len(names):
        return pictures
    return [(path, name) for (path, _), name in zip(pictures, names, strict=True)]


def _outcomes(tasks: Sequence[Task], workers: int) -> Iterator[Outcome]:
    """Yield the outcome of every task as it comes, from this process or from a pool."""
    if workers <= 1 or len(tasks) < 2:
        yield from map(measure_task, tasks)
        return
    left = {task.file: task for task in tasks}
    try:
        for outcome in _pooled(list(left.values()), min(workers, len(tasks))):
            del left[outcome.row["file"]]
            yield outcome
    except BrokenProcessPool:
        # A process was killed. Which picture did it isn't known: those left go on one at a time, each in its own process.
        for task in list(left.values()):
            try:
                yield from _pooled([task], 1)
            except BrokenProcessPool:
                reason = (
                    f"{task.file}: the process that measured it was killed, probably for want of memory; "
                    "use fewer workers or export a smaller picture"
                )
                yield Outcome(row=empty_row(task.file, status="refused", reason=reason, **_plan_words(task.planned)))


def _pooled(tasks: Sequence[Task], workers: int) -> Iterator[Outcome]:
    with _environment(ONE_THREAD):
        pool = concurrent.futures.ProcessPoolExecutor(
            workers, mp_context=get_context("spawn"), initializer=_start_worker
        )
        try:
            futures = [pool.submit(measure_task, task) for task in tasks]
            for future in concurrent.futures.as_completed(futures):
                yield future.result()
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _start_worker() -> None:
    """Leave Ctrl-C to the main process and keep OpenCV to one thread."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    import cv2

    cv2.setNumThreads(1)


@contextlib.contextmanager
def _environment(values: dict[str, str]) -> Iterator[None]:
    before = {name: os.environ.get(name) for name in values}
    os.environ.update(values)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def measure_task(task: Task) -> Outcome:
    """Measure one picture, or take over its record, and write its files; the record comes last and vouches for them."""
    rests_on = _rests_on(task)
    kept = _kept(task, rests_on)
    if kept is not None:
        return kept
    result = measure_file(task.path, file=task.file, settings=task.settings, planned=task.planned)
    for name in (task.files.record, task.files.mask, task.files.overlay, task.files.small_picture):
        with contextlib.suppress(OSError):
            (task.out / name).unlink(missing_ok=True)
    if result.measured:
        from semwear.overlay import draw_overlay

        results.write_mask(task.out / task.files.mask, result.codes)
        overlay = draw_overlay(
            result.grey,
            result.codes,
            picture=result.picture,
            pixel_size_um=result.row["pixel_size_um"],
            pixel_height_um=result.pixel_height_um,
            title=task.file,
            subtitle=_subtitle(result.row),
        )
        results.write_overlay(task.out / task.files.overlay, overlay)
        results.write_small_picture(task.out / task.files.small_picture, overlay)
    if result.lasting and rests_on["sha256"]:
        record = {"rests_on": rests_on, "row": result.row, "regions": result.regions, "precision": result.precision,
                  "picture": asdict(result.picture_print) if result.picture_print else None}  # fmt: skip
        results.write_record(task.out / task.files.record, record)
    return Outcome(row=result.row, regions=result.regions, precision=result.precision, picture=result.picture_print)


def _rests_on(task: Task) -> dict:
    """Return all that a field's figures depend on, as plain values; the checksum is empty for an unreadable file."""
    from semwear.picture_text import sidecar_texts

    try:
        with open(task.path, "rb") as stream:
            sha256 = hashlib.file_digest(stream, "sha256").hexdigest()
        sidecars = sorted(sidecar_texts(task.path).items())
    except (OSError, ValueError):
        sha256, sidecars = "", []
    planned = asdict(task.planned) | {"sheet_row": 0}
    return {
        "sha256": sha256,
        "sidecars": hashlib.sha256(repr(sidecars).encode("utf-8", "backslashreplace")).hexdigest(),
        "settings": repr(replace(task.settings, mix_settings=False)),
        "planned": repr(planned),
        "file": task.file.encode("utf-8", "backslashreplace").decode(),
        "model": task.model_sha256,
        "version": __version__,
        "code_sha256": code_sha256(),
    }


@lru_cache(maxsize=1)
def code_sha256() -> str:
    """Return a checksum over the package's source, which tells two states of one version apart."""
    folder, digest = Path(__file__).parent, hashlib.sha256()
    for path in sorted(folder.rglob("*.py")):
        digest.update(path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def _kept(task: Task, rests_on: dict) -> Outcome | None:
    """Return the outcome of an earlier run when its record fits and its files are there."""
    record = results.read_record(task.out / task.files.record)
    if record is None or record.get("rests_on") != rests_on:
        return None
    try:
        row = _from_record(record["row"], FIELD_COLUMNS) | {"file": task.file}
        regions = tuple(_from_record(region, REGION_COLUMNS) | {"file": task.file} for region in record["regions"])
        picture = PicturePrint(**record["picture"]) if record["picture"] else None
    except (KeyError, TypeError, AttributeError):
        return None
    wanted = (task.files.mask, task.files.overlay, task.files.small_picture) if row["status"] == "measured" else ()
    if not all((task.out / name).is_file() for name in wanted):
        return None
    return Outcome(
        row=row, regions=regions, precision=str(record.get("precision", "")), picture=picture, kept=True
    )


def _from_record(values: dict, columns) -> dict:
    """Return a stored row with NaN put back where a number is unknown."""
    return {
        column.name: float("nan") if column.kind is float and values[column.name] is None else values[column.name]
        for column in columns
    }


def _subtitle(row: dict) -> str:
    words = [row["specimen"], row["zone"], row["stage"], f"{row['field_width_um']:.4g} µm wide"]
    return " · ".join(word for word in words if word)


def _plan_words(planned: PlannedField) -> dict:
    return {"specimen": planned.specimen, "zone": planned.zone, "stage": planned.stage}


def _final_rows(done: list[tuple[Task, Outcome]], settings: Settings) -> list[dict]:
    """Return the rows with copies marked and the retention filled in; each carries the id of its picture."""
    from semwear.retention import field_retention

    paths = {task.file: task.path for task, _ in done}
    ids = picture_ids({task.file: outcome.picture for task, outcome in done}, paths, page=settings.page)
    rows = [outcome.row | {PICTURE_ID: ids.get(task.file, "")} for task, outcome in done]
    return field_retention(mark_copies(rows), mix_settings=settings.mix_settings)


def _write_all(out: Path, done: list[tuple[Task, Outcome]], rows: list[dict], run: dict) -> None:
    """Write tables, report and run.json."""
    from semwear.report import build_report

    results.write_tables(out, rows, (region for _, outcome in done for region in outcome.regions))
    results.write_report(out, build_report(rows, run, {task.file: out / task.files.small_picture for task, _ in done}))
    results.write_run(out, run)


def _check_out(out: Path, paths: Sequence[str | Path]) -> None:
    """Raise ResultsError unless ``out`` may be written: it must not hold the pictures or somebody else's tables or report."""
    if out.exists() and not out.is_dir():
        raise ResultsError(f"{out}: there is a file of that name; choose another results folder with --out")
    for path in paths:
        if Path(path).is_dir() and _is_inside(Path(path), out):
            raise ResultsError(f"{out}: the results folder holds the pictures of {path}; choose another with --out")
    foreign = results.foreign_file(out)
    if foreign:
        raise ResultsError(
            f"{out}: it has a {foreign} that semwear measure didn't write; choose another folder with --out"
        )
    inside = [path for path in paths if _is_inside(Path(path), out)]
    if inside:
        raise ResultsError(f"{inside[0]}: it lies inside the results folder {out}; choose another folder with --out")


def _is_inside(path: Path, folder: Path) -> bool:
    try:
        return path.resolve().is_relative_to(folder.resolve())
    except OSError:
        return False


def _model_facts(settings: Settings) -> dict:
    """Return name, folder and checksum of the model that is used, after a check that it can be; empty without one."""
    folder = default_model(settings)
    if folder is None:
        return {}
    from semwear.model import read_card

    card = read_card(folder)
    return {"name": card["name"], "sha256": card["weights_sha256"], "folder": str(folder)}


def _run_facts(done, rows, paths, plan, settings, model, started, *, complete, workers, total) -> dict:
    """Return the content of run.json."""
    ended = time.time()
    ids = {row["file"]: row[PICTURE_ID] for row in rows}
    return {
        "semwear": __version__,
        "code_sha256": code_sha256(),
        "started": datetime.fromtimestamp(started, UTC).isoformat(timespec="seconds"),
        "ended": datetime.fromtimestamp(ended, UTC).isoformat(timespec="seconds"),
        "seconds": round(ended - started, 3),
        "complete": complete,
        "pictures": total,
        "measured": sum(outcome.row["status"] == "measured" for _, outcome in done),
        "refused": sum(outcome.row["status"] != "measured" for _, outcome in done),
        "taken_over": sum(outcome.kept for _, outcome in done),
        "paths": [str(path) for path in paths],
        "plan": str(plan.path) if plan else "",
        "settings": asdict(settings) | {"workers": workers},
        "model": model | {"precision": sorted({outcome.precision for _, outcome in done} - {""})} if model else {},
        "python": platform.python_version(),
        "system": platform.platform(),
        "packages": {name: version for name in PACKAGES if (version := _version(name))},
        "files": {
            task.file: {"picture": str(task.path.absolute())}
            | (
                {"mask": task.files.mask, "overlay": task.files.overlay, PICTURE_ID: ids[task.file]}
                if outcome.row["status"] == "measured"
                else {}
            )
            for task, outcome in done
        },
    }


def _version(package: str) -> str:
    try:
        return metadata.version(package)
    except metadata.PackageNotFoundError:
        return ""
