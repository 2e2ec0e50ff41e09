"""Addresses of taking the pen and of those who let others take it."""

from __future__ import annotations

from django.urls import path

from distillery.pen.views import keys, roster, signing_on, site

urlpatterns = [
    path("sign-on/", signing_on.sign_on, name="login"),
    path("pen/now/", signing_on.pen_now, name="pen_now"),
    path("pen/keep/", signing_on.pen_keep, name="pen_keep"),
    path("pen/lock/", signing_on.pen_lock, name="pen_lock"),
    path("pen/key/", keys.pen_key, name="pen_key"),
    path("on-shift/", roster.on_shift, name="on_shift"),
    path("site/key/", keys.key_register, name="key_register"),
    path("site/key/end/", keys.key_end, name="key_end"),
    path("site/pc/enrol/", site.pc_enrol, name="pc_enrol"),
    path("site/pc/end/", site.pc_end, name="pc_end"),
    path("site/pin/", site.pin_choose, name="pin_choose"),
    path("site/pass/", site.pass_make, name="pass_make"),
]
