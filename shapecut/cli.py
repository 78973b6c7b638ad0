"""The commands: parse, call the stages, print.  Heavy imports stand inside the commands."""

import sys
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

import click

from shapecut import __version__
from shapecut.faults import Commands, Fault
from shapecut.process import (
    hear_requests_to_stop,
    search_rarely_for_cycles,
    use_one_thread_for_matrices,
)

__all__ = ["main"]

EXISTING_FOLDER = click.Path(exists=True, file_okay=False, path_type=Path)
EXISTING_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
OUTPUT_FOLDER = click.Path(file_okay=False, path_type=Path)
OUTPUT_FILE = click.Path(dir_okay=False, path_type=Path)

REPLACE = click.option("--replace", is_flag=True, help="Replace an existing result, whole.")


def report(step: str) -> None:
    """Name a long step on a terminal; say nothing in a pipe."""
    if sys.stderr.isatty():
        click.echo(f"  … {step}", err=True)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="shapecut")
def main() -> None:
    """Fit straight boards into an awkward place.

    Photograph a template among printed cards; get its measured outline, rows of boards, the boards
    to buy, and cut lines as DXF, full-scale pages, cut list and report.

    \b
    shapecut cards                     print the reference cards
    shapecut check one.jpg two.jpg     are the photographs good enough?
    shapecut new step one.jpg two.jpg  start a job from photographs
    shapecut make step                 measure, plan and write everything
    shapecut bench step                the same in the browser, by pointing
    """
    use_one_thread_for_matrices()
    search_rarely_for_cycles()
    if threading.current_thread() is threading.main_thread():
        hear_requests_to_stop()


@main.command()
@click.option(
    "--size",
    type=click.Choice(["small", "half", "full"]),
    default="half",
    show_default=True,
    help="small: 8 a sheet, for treads; half: 2, for up to 2 m; full: 1, for larger.",
)
@click.option("--page", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True)
@click.option(
    "--count", type=click.IntRange(min=1), default=6, show_default=True, help="How many cards."
)
@click.option(
    "--first", type=click.IntRange(min=1), help="Number to start from, for more cards than before."
)
@click.option("-o", "--out", type=OUTPUT_FILE, default=Path("cards.pdf"), show_default=True)
@REPLACE
def cards(size: str, page: str, count: int, first: int | None, out: Path, replace: bool) -> None:
    """Write the reference cards to print.

    \b
    Example:  shapecut cards --page Letter --count 6 -o cards.pdf
    """
    from shapecut.capture.card_sheets import card_sheets_pdf
    from shapecut.papers.folder import whole_file

    sheets = card_sheets_pdf(size=size, page=page, first=first, count=count)
    whole_file(out, sheets, replace=replace)
    click.echo(f"{out}: {count} cards on {page}.  Print at 100 %, cut out, measure the check bars.")


@main.command()
@click.argument("photos", nargs=-1, required=True, type=EXISTING_FILE)
@click.option(
    "--squares", required=True, metavar="NxN", help="Squares along both sides of the sheet: 10x7."
)
@click.option("--square", required=True, metavar="LENGTH", help='Side of a square: "25 mm".')
@click.option(
    "--charuco",
    metavar="DICTIONARY",
    help='The sheet is a ChArUco one with marks of "ArUco 4x4 50".',
)
@click.option("--mark", metavar="LENGTH", help="Side of a ChArUco mark's black square.")
@click.option(
    "--fixed-focus", is_flag=True, help="Nothing in the lens moves: no autofocus, no stabiliser."
)
@click.option("-o", "--out", type=OUTPUT_FILE, default=Path("camera.json"), show_default=True)
@REPLACE
def camera(
    photos: tuple[Path, ...],
    squares: str,
    square: str,
    charuco: str | None,
    mark: str | None,
    fixed_focus: bool,
    out: Path,
    replace: bool,
) -> None:
    """Calibrate a camera once, for jobs to lean on: template.camera = "camera.json".

    Photograph a printed chessboard or ChArUco sheet, flat on a board, ten times or so: from all
    sides, tilted 30 to 45 degrees, filling the picture.

    \b
    Example:  shapecut camera sheet*.jpg --squares 10x7 --square "25 mm" -o phone.json
    """
    from shapecut.capture.chessboard import Chessboard, squares_from_text
    from shapecut.capture.photos import read_photos
    from shapecut.capture_summary import camera_lines
    from shapecut.papers.folder import whole_file
    from shapecut.papers.json_text import readable_json
    from shapecut.stages.calibrating import calibrate_camera
    from shapecut.survey.camera_file import camera_record
    from shapecut.units import parse_length

    sheet = Chessboard(
        squares_from_text(squares),
        parse_length(square),
        dictionary=charuco,
        mark_mm=parse_length(mark) if mark else None,
    )
    report("reading the pictures")
    made = calibrate_camera(
        read_photos(photos),
        sheet,
        name=out.name,
        focus="fixed" if fixed_focus else "auto",
        report=report,
    )
    record = camera_record(made.camera, made.basis).model_dump(mode="json")
    whole_file(out, readable_json(record).encode(), replace=replace)
    click.echo("\n".join([*camera_lines(made), f"written to {out}"]))


@main.command()
@click.argument(
    "sources", metavar="JOB|PHOTO...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option("--bar-along", metavar="LENGTH", help="The cards' check bar along the sheet.")
@click.option("--bar-across", metavar="LENGTH", help="The check bar across the sheet.")
@click.option("--own-dictionary", metavar="NAME", help='Own marks, such as "AprilTag 36h11".')
@click.option("--own-side", metavar="LENGTH", help="Side of their black square.")
@click.option("--camera", type=EXISTING_FILE, help="A camera.json of the camera.")
@click.pass_context
def check(
    ctx: click.Context,
    sources: tuple[Path, ...],
    bar_along: str | None,
    bar_across: str | None,
    own_dictionary: str | None,
    own_side: str | None,
    camera: Path | None,
) -> None:
    """Check photographs while the cards still lie there: what they give, what would help most.

    Of a job folder, its photographs are checked as it states.  Exits with 1 if the photographs are
    not fit to measure by.

    \b
    Example:  shapecut check one.jpg two.jpg
    """
    from shapecut.capture_summary import check_lines, seen_lines
    from shapecut.job.reading import cards_from_values
    from shapecut.stages.checking import Check, check_of_job

    if len(sources) == 1 and sources[0].is_dir():
        wanted = check_of_job(sources[0])
    else:
        stated = {"bar_along": bar_along, "bar_across": bar_across}
        own = {"dictionary": own_dictionary, "side": own_side}
        wanted = Check(sources, cards_from_values(stated, own), camera)
    seen = wanted.see(report=report)
    click.echo("\n".join(seen_lines(seen)))
    checked = wanted.survey(seen, report=report)
    click.echo("\n".join(check_lines(checked, wanted.lengths)))
    ctx.exit(0 if checked.measurable else 1)


@main.command()
@click.argument("folder", type=OUTPUT_FOLDER)
@click.argument("photos", nargs=-1, type=EXISTING_FILE)
@click.option("--title", help="Of the job; the folder's name if left out.")
@click.option(
    "--units",
    type=click.Choice(["mm", "in"]),
    default="mm",
    show_default=True,
    help="That lengths in the job file are written in.",
)
def new(
    folder: Path, photos: tuple[Path, ...], title: str | None, units: Literal["mm", "in"]
) -> None:
    """Start a job: a folder with a commented job.toml and copies of the photographs.

    Without photographs the job runs on a typed outline to be changed by hand.

    \b
    Example:  shapecut new pond-step one.jpg two.jpg
    """
    from shapecut.job_folder import new_job

    new_job(folder, photos, title=title, units=units)
    click.echo(f"{folder / 'job.toml'}: look through it, then run `shapecut make {folder}`.")


@main.command()
@click.argument("job_folder", metavar="JOB", type=EXISTING_FOLDER)
@click.option("-o", "--out", type=OUTPUT_FOLDER, help="Folder for the result [JOB/measured].")
@REPLACE
def measure(job_folder: Path, out: Path | None, replace: bool) -> None:
    """Measure the template: outline.json, the outline over each photograph, the flat picture.

    \b
    Example:  shapecut measure pond-step
    """
    from shapecut.job_folder import measure_into
    from shapecut.summary import measured_lines

    out = out or job_folder / "measured"
    measured = measure_into(job_folder, out, replace=replace, report=report)
    click.echo("\n".join([*measured_lines(measured), f"written to {out}"]))


@main.command()
@click.argument("job_folder", metavar="JOB", type=EXISTING_FOLDER)
@click.option(
    "--outline",
    type=EXISTING_FILE,
    help="An outline: .json, .dxf, .svg or .csv [the job's, or JOB/measured/outline.json].",
)
@click.option("-o", "--out", type=OUTPUT_FOLDER, help="Folder for the result [JOB/planned].")
@REPLACE
def plan(job_folder: Path, outline: Path | None, out: Path | None, replace: bool) -> None:
    """Plan the boards on an outline: plan.json, plan.svg, cut list.

    \b
    Example:  shapecut plan pond-step --outline pond-step/measured/outline.json
    """
    from shapecut.job_folder import plan_into
    from shapecut.summary import plan_lines

    out = out or job_folder / "planned"
    made = plan_into(job_folder, out, outline_path=outline, replace=replace, report=report)
    click.echo("\n".join([*plan_lines(made), f"written to {out}"]))


@main.command()
@click.argument("jobs", metavar="JOB...", nargs=-1, required=True, type=EXISTING_FOLDER)
@click.option("-o", "--out", type=OUTPUT_FOLDER, help="Folder for the result [JOB/cut].")
@REPLACE
@click.pass_context
def make(ctx: click.Context, jobs: tuple[Path, ...], out: Path | None, replace: bool) -> None:
    """Measure, plan and write everything: DXF, full-scale pages, cut list, report.

    Several jobs are made side by side, each into its own JOB/cut; one that fails stops no other,
    and the exit code is 1 then.

    \b
    Example:  shapecut make pond-step --replace
              shapecut make pond-step attic shelf-*
    """
    if len(jobs) == 1:
        _make_one(jobs[0], out or jobs[0] / "cut", replace=replace)
    elif out:
        raise click.UsageError(
            "--out names one folder, and there are several jobs: leave it out, and each result "
            "goes into its job's folder cut."
        )
    else:
        ctx.exit(0 if _make_several(jobs, replace=replace) else 1)


def _make_one(job: Path, out: Path, *, replace: bool) -> None:
    from shapecut.job_folder import make_into
    from shapecut.summary import made_lines

    made = make_into(job, out, replace=replace, report=report)
    click.echo(
        "\n".join([*made_lines(made), f"written to {out}; open {out / 'report.html'} first"])
    )


def _make_several(jobs: Sequence[Path], *, replace: bool) -> bool:
    """Make jobs and tell what came of them; whether all were made."""
    from shapecut.many_jobs import make_each

    ended = []
    for job in make_each(jobs, replace=replace):
        ended.append(job)
        click.echo(f"--- {job.folder}")
        if job.said:
            click.echo(job.said)
        if job.complained:
            click.echo(job.complained, err=True)
    failed = [str(job.folder) for job in ended if job.exit_code]
    left = f"; not made: {', '.join(failed)} (why is said above)" if failed else ""
    click.echo(f"{len(ended) - len(failed)} of {len(ended)} jobs made{left}")
    return not failed


@main.command()
@click.argument("folder", type=OUTPUT_FOLDER, default=Path("shapecut-demo"))
@REPLACE
def demo(folder: Path, replace: bool) -> None:
    """Run the bundled example: boards round a notched step.

    \b
    Example:  shapecut demo
    """
    from shapecut.examples import demo_job
    from shapecut.job_folder import make_run
    from shapecut.summary import made_lines

    made = make_run(demo_job(), folder, replace=replace, report=report)
    first = folder / "cut" / "report.html"
    click.echo("\n".join([*made_lines(made), f"written to {folder}; open {first} first"]))


@main.command()
@click.argument("job_folder", metavar="[JOB]", type=OUTPUT_FOLDER, required=False)
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="Port [any free one].")
@click.option("--no-browser", is_flag=True, help="Only print the address.")
@click.option(
    "--open-to-network",
    is_flag=True,
    help="Let a phone of the local network in, by a code; the connection is not encrypted.",
)
@click.option(
    "--address",
    metavar="IP",
    help="Of this machine in the local network, with --open-to-network [the one found].",
)
def bench(
    job_folder: Path | None, port: int, no_browser: bool, open_to_network: bool, address: str | None
) -> None:
    """Do the whole job in the browser, from print cards to papers; on this machine only.

    JOB is a job's folder, or a new one to start a job in; left out, it is this folder if it has a
    job.toml, else the folder shapecut-job in it.  Changes are written to JOB/job.toml, comments
    kept.  Stop it with Ctrl-C.

    \b
    Example:  shapecut bench pond-step
              shapecut bench pond-step --open-to-network
    """
    try:
        import tomlkit  # noqa: F401
    except ImportError:
        raise Fault(
            "the bench needs one package more: run `pip install 'shapecut[bench]'`.", exit_code=1
        ) from None
    from shapecut.bench.opening import open_bench

    open_bench(
        job_folder,
        port=port,
        to_network=open_to_network,
        address=address,
        browser=not no_browser,
        say=click.echo,
    )
