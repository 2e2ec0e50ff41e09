"""Asks an address of this site as a person would by looking at it, without a browser: how a document is made again."""

from __future__ import annotations

from io import BytesIO
from urllib.parse import unquote, urlsplit

from django.core.handlers.wsgi import WSGIRequest
from django.http import HttpResponseBase
from django.urls import resolve

from distillery.people.models import Person


def asked_by(address: str, person: Person) -> WSGIRequest:
    """The request for an address of this site, a path with its question. What names another host is left out."""
    asked = urlsplit(address)
    request = WSGIRequest(
        {
            "REQUEST_METHOD": "GET",
            "PATH_INFO": unquote(asked.path),
            "QUERY_STRING": asked.query,
            "SERVER_NAME": "localhost",
            "SERVER_PORT": "80",
            "wsgi.url_scheme": "http",
            "wsgi.input": BytesIO(),
        }
    )
    request.user = person
    return request


def answer_to(request: WSGIRequest) -> HttpResponseBase:
    """What the view of its address answers. Raises Resolver404 where there is none, and whatever the view raises."""
    view, args, kwargs = resolve(request.path_info)
    answer: HttpResponseBase = view(request, *args, **kwargs)
    return answer
