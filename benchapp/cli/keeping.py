"""Commands that keep the journal safe."""

import sys
from pathlib import Path

import click

from benchapp.actions.keeping import bring_back, check_journal, make_backup, mesh_names, wrong_meshes
from benchapp.actions.restoring import note_restored
from benchapp.cli.shared import bar, data_option
from benchapp.network.place import place_of
from benchapp.serve import backup_name, bench_of
from benchapp.store.folder import open_for_reading, open_for_writing
from benchapp.store.meshes import Meshes
from benchapp.store.verify import Broken, Checkpoint


def _checkpoint(ctx: click.Context, param: click.Parameter, text: str | None) -> Checkpoint | None:
    if text is None:
        return None
    seq, _, digest = text.partition(":")
    digest = digest.strip().lower()
    if not seq.strip().isdigit() or len(digest) != 64 or any(c not in "0123456789abcdef" for c in digest):
        raise click.BadParameter("write it as N:HASH, as it is printed on a record or by `benchapp verify`")
    return Checkpoint(int(seq), digest)


@click.command()
@data_option
@click.option("--checkpoint", callback=_checkpoint, metavar="N:HASH", help="An entry that must be in the chain.")
def verify(data: Path, checkpoint: Checkpoint | None) -> None:
    """Check every column of every entry; exit 0 and a checkpoint, or 1 and the first entry that does not hold.

    Design files are looked at after that: each that is missing or changed is named, with exit 1.
    """
    with open_for_reading(data) as store:
        found = check_journal(store, checkpoint, bar("Checked"))
        parked = store.parked()
        wrong = [] if isinstance(found, Broken) else wrong_meshes(store, bar("Design files"))
    if isinstance(found, Broken):
        click.echo(f"Does not hold: {found}")
        click.echo("Work on a copy of the last backup: benchapp restore BACKUP --data NEW_FOLDER")
        sys.exit(1)
    click.echo(f"Holds. Checkpoint {found.seq}:{found.hash}")
    for name, there in wrong:
        click.echo(f"Design file {name} is {'not the one that was kept' if there else 'missing'}: copy it from "
                   "`meshes` beside a backup into `meshes` of the data folder, or attach it again.")
    for one in parked:
        click.echo(f"Parked, could not be read: number {one.id} from tablet {one.tablet}: {one.why}")
    if wrong:
        sys.exit(1)


@click.command()
@data_option
@click.option("--to", required=True, type=click.Path(path_type=Path, file_okay=False), help="Folder for the copies.")
@click.option("--keep", type=click.IntRange(1), default=14, show_default=True, help="How many copies stay.")
def backup(data: Path, to: Path, keep: int) -> None:
    """Copy the journal, also while the server runs, and the lab's network; verified, old copies are rotated."""
    from benchapp.network.takeover import copy_network  # here: other commands need no certificates

    with open_for_reading(data) as store:
        made = make_backup(store, to, backup_name("backup"), keep, bar("Copied"))
    click.echo(f"Wrote {made.path}, verified. Checkpoint {made.checkpoint.seq}:{made.checkpoint.hash}")
    for old in made.removed:
        click.echo(f"Removed {old}")
    for name in made.missing:
        click.echo(f"Not copied: design file {name} is missing or changed. Run `benchapp verify`.")
    if network := copy_network(data, to):
        click.echo(f"Wrote {network}, the lab's network with its keys: keep that folder as you keep keys.")


@click.command()
@click.argument("backup_file", metavar="BACKUP", type=click.Path(path_type=Path, dir_okay=False))
@data_option
@click.option("--network", type=click.Path(path_type=Path, file_okay=False, exists=True),
              help="The folder `network` of the old PC; left out: the one beside the backup, if there is one.")
def restore(backup_file: Path, data: Path, network: Path | None) -> None:
    """Bring a backup back into an empty folder, with the lab's network; the backup is verified first."""
    from benchapp.network.takeover import bring_network

    found = bring_back(backup_file, data, bar("Copied"))
    with open_for_writing(data) as store:
        note_restored(bench_of(store), found)
        missing = sum(1 for name in mesh_names(store) if not Meshes(data).there(name))
    click.echo(f"Restored into {data} up to checkpoint {found.seq}:{found.hash}")
    if missing:
        click.echo(f"Design files that did not come with it: {missing}. Copy the folder `meshes` of the backups into "
                   f"{data}; without them every record stays readable, and no check is made anew.")
    network = network or place_of(backup_file.parent).path
    if network.exists():
        click.echo(f"Brought {bring_network(network, data)}: with `serve --lan`, this PC is the old one to every "
                   "tablet. Switch the old one off first, and give this PC its name in the router.")
    else:
        click.echo("No network came with it. A lab with tablets copies the folder `network` of the old data folder "
                   f"into {data} before it serves them.")
    click.echo("Tablets send what they still have by themselves as soon as the server runs.")
    click.echo("Tablets that were struck off after this backup was made count again: look through /desk/tablets.")


