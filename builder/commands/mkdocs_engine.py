"""``prescrub publish`` where the department says ``engine: mkdocs``: its own mkdocs site, made in a work folder, proved
on the finished pages, with a report of every file, and put in the old one's place in one step."""

import logging
from collections.abc import Collection, Mapping
from dataclasses import replace
from pathlib import Path

from mkdocs.commands.build import build
from mkdocs.config import load_config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import Abort, MkDocsException, PluginError

from builder import pipeline
from builder.commands.mkdocs_plugin import Prescrub
from builder.model.library import Library
from builder.publish.build_report import Report, every_file, sha256
from builder.publish.output import SITE
from builder.publish.publish_error import PublishError, WrongTarget, collected
from builder.publish.publishing import Means, Progress, in_work_folder
from builder.publish.site import withdrawing

SETTINGS = "mkdocs.yml"


def publish(  # noqa: PLR0913  # as the publish it stands for
    library: Library,
    to: Path,
    templates: Mapping[str, str],
    progress: Progress = lambda *_: None,
    *,
    only: Collection[str] = (),
    issue: bool = False,
    over: Collection[str] | None = None,
    means: Means | None = None,
) -> Report:
    """Publish ``library`` to the folder ``to`` as ``pipeline.publish`` does, within the department's mkdocs site."""

    def publish_to(folder: Path) -> Report:
        return pipeline.publish(library, folder, templates, progress, only=only, issue=issue, means=means)

    if only and SITE not in only:
        return publish_to(to)
    with in_work_folder(to, library.root) as work:
        config, plugin = _configured(library.root, work.new)
        plugin.given, plugin.report = publish_to, None
        try:
            _build(config)
        finally:
            plugin.given = None  # mkdocs keeps its plugins from one build to the next
        report = _of_finished(plugin.report, plugin.under, work.new)
        if over is not None:
            report = withdrawing.lay_over(work.target, work.new, report, library, over, under=plugin.under)
        work.put_in_place()
        return report


def _configured(root: Path, to: Path) -> tuple[MkDocsConfig, Prescrub]:
    """Return what ``mkdocs.yml`` says, for a site in ``to``, and the plugin that it names. Raises WrongTarget."""
    file = root / SETTINGS
    if not file.is_file():
        raise WrongTarget(
            f"department.md says `engine: mkdocs`, and there is no {SETTINGS} beside content/. "
            "Write one (FORMAT.md shows it), or take the key away."
        )
    try:
        config = load_config(str(file), site_dir=str(to))
        config.plugins.on_startup(command="build", dirty=False)
    except (MkDocsException, Abort) as error:
        raise WrongTarget(f"{SETTINGS} cannot be used: {_reason(error)}") from error
    plugin = config.plugins.get("prescrub")
    if not isinstance(plugin, Prescrub):
        raise WrongTarget(f"{SETTINGS} does not name the plugin `prescrub`. Add it to its `plugins`.")
    return config, plugin


def _build(config: MkDocsConfig) -> None:
    with collected(logging.WARNING, "mkdocs") as said:
        try:
            build(config)
        except (PluginError, Abort) as error:
            told = _reason(error) if isinstance(error, PluginError) or error.__context__ else "\n".join(said)
            raise PublishError(f"mkdocs built no site. {told}", is_content=True) from error


def _reason(error: BaseException) -> str:
    return str(error.__context__ if isinstance(error, Abort) and error.__context__ else error)


def _of_finished(proved: Report | None, under: str, site: Path) -> Report:
    """Return ``proved`` with the places and digests of the files in the finished ``site``, and write it there."""
    if proved is None:
        raise PublishError(f"mkdocs made no page of the department: {SETTINGS} switches its plugin off.")
    found = set(every_file(site))
    artefacts = tuple(
        replace(made, path=path, sha256=sha256(site / path), bytes=(site / path).stat().st_size)
        for made in proved.artefacts
        if (path := f"{under}{made.path}") in found
    )
    return replace(proved, artefacts=artefacts).put_into(site)
