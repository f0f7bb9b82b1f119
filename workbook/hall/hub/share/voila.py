"""What Voilà reads when a guest's server starts."""

from workbook.hall.hub.quiet import quiet

c = get_config()  # noqa: F821  traitlets puts it here
c.VoilaConfiguration.prelaunch_hook = quiet
