"""The shell's own pages: home by role, signing in and out, help, people and phones, settings."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import LoginView
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from firm.forms import PersonForm, SettingForm
from firm.models import Device, Setting, User
from firm.navigation import home_of
from firm.roles import office_required, owner_required


class SignIn(LoginView):
    """Takes paste and password managers; says the same whether the name or the password was wrong."""

    template_name = "firm/sign_in.html"
    redirect_authenticated_user = True


@login_required
@require_GET
def home(request):
    return redirect(home_of(request.user))


@require_GET
def help_page(request):
    base = "firm/base.html"
    if request.user.is_authenticated and not request.user.sees_office:
        base = "firm/phone.html"
    return render(request, "firm/help.html", {"base": base})


@owner_required
@require_http_methods(["GET", "POST"])
def settings_page(request):
    form = SettingForm(request.POST or None, instance=Setting.current())
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Saved. The next estimates and proposals use these settings.")
        return redirect("settings")
    return render(request, "firm/settings.html", {"form": form}, status=400 if form.errors else 200)


@office_required
@require_GET
def people(request):
    everybody = User.objects.prefetch_related("devices").order_by("-is_active", "name", "username")
    return render(request, "firm/people.html", {"people": everybody})


@owner_required
@require_http_methods(["GET", "POST"])
def person(request, pk=None):
    """A new person, or the roles and password of one."""
    one = get_object_or_404(User, pk=pk) if pk else None
    form = PersonForm(request.POST or None, instance=one)
    if request.method == "POST" and form.is_valid():
        saved = form.save()
        messages.success(request, f"{saved} is saved.")
        return redirect("people")
    return render(request, "firm/person.html", {"form": form, "person": one}, status=400 if form.errors else 200)


@office_required
@require_POST
def phone_revoke(request, pk):
    """A lost phone: its token ends at once. What it has sent stays."""
    device = get_object_or_404(Device, pk=pk)
    if device.revoked_at is None:
        Device.objects.filter(pk=pk).update(revoked_at=timezone.now())
    messages.success(request, f"{device.name} of {device.user} cannot sign in any more.")
    return redirect("people")
