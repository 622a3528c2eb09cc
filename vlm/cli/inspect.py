"""``foldspan inspect``: dimensions, arrangement and clearances against fold."""

import click

from vlm.cli.options import echo_json, geometry_options, json_option


@click.command("inspect")
@geometry_options
@click.option(
    "--folds",
    "--fold",
    "fold",
    default=None,
    metavar="START:STOP:COUNT|A,B,C",
    help="Folds of the clearance table [deg].",
)
@json_option
def command(file: str, overrides: tuple[str, ...], fold: str | None, as_json: bool) -> None:
    """Areas, spans, aspect ratio, gap and stagger over chord, decalage; clearance of the tips."""
    from vlm.cli.craft import load_biplane
    from vlm.study.inspection import inspection
    from vlm.study.plan import axis_values

    craft = load_biplane(file, overrides)
    folds = axis_values(fold, "--folds") if fold is not None else None
    report = inspection(craft, folds)
    if as_json:
        from vlm.plain import without_nan

        echo_json(without_nan(report))
        return
    from vlm.show.tables.inspection import inspection_table

    click.echo(inspection_table(report))
