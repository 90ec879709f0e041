"""Forms that are applied once: each carries a hidden UUID, because browsers repeat a POST by themselves."""

import uuid

from django.contrib import messages

from firm.forms import EventForm
from firm.sending import SentBefore, apply_once

NOT_CONTENT = {"csrfmiddlewaretoken", "event", "next"}
SAVED_BEFORE = "This form was saved before with other content. Look at what stands below; press again to save it too."


class OnceForm(EventForm):
    """A form with its own event. Errors of a service come back to the field that they name.

    Ids bear the form's name, because some pages hold several forms; a form of one button has none.
    """

    def __init__(self, *args, **kwargs):
        bare = type(self) is OnceForm
        kwargs.setdefault("auto_id", False if bare else f"{type(self).__name__.lower()}-%s")
        super().__init__(*args, **kwargs)

    def renew_event(self):
        """Give a form that was sent a new event, and keep everything else that was typed."""
        self.data = self.data.copy()
        self.data[self.add_prefix("event")] = str(uuid.uuid4())

    def refuse(self, problem):
        """Show what a service refused at its field, or above the form."""
        field = getattr(problem, "field", None)
        self.add_error(field if field in self.fields else None, str(problem))


def content(request):
    """What was typed, as apply_once compares it."""
    typed = {key: request.POST.getlist(key) for key in sorted(request.POST) if key not in NOT_CONTENT}
    return typed | {key: [sent.name, sent.size] for key, sent in request.FILES.items()}


def save_once(request, form, kind, work, refused=()):
    """Run `work(cleaned, event)` exactly once for a valid form. Return its answer, or None when the form refuses.

    work returns something JSON-able that is not None. refused: the exceptions by which services say no.
    """
    if not form.is_valid():
        return None
    event = form.cleaned_data["event"]
    body = {"address": request.path, **content(request)}
    try:
        answer, _new = apply_once(event, kind, body, lambda: work(form.cleaned_data, event), by=request.user)
    except SentBefore:
        form.renew_event()
        form.add_error(None, SAVED_BEFORE)
        return None
    except refused as problem:
        form.refuse(problem)
        return None
    return answer


def press_once(request, kind, work, refused=()):
    """Like save_once for a form of one button. Return the answer, or None after telling the person why not."""
    form = OnceForm(request.POST)
    answer = save_once(request, form, kind, work, refused)
    if answer is None:
        for text in form.non_field_errors() or ["This form was not whole; nothing was changed."]:
            messages.error(request, text)
    return answer
