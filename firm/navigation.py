"""What stands in the shell of every page."""

from firm.models import Setting


def shell(request):
    return {"firm": Setting.current()}
