"""The page of a watch: over real HTTP on the loopback, to our own page and to nobody else."""

from __future__ import annotations

import http.client
import socket
from collections.abc import Iterator
from contextlib import closing

import pytest

from sim.cli.serving import Served, serving
from sim.errors import OutputError

PAGE = "<!doctype html><title>Ä</title>"


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    served = Served()
    served.show(PAGE, 3)
    with serving(served, 0) as found:
        yield found


def ask(
    address: str, path: str = "/", method: str = "GET", **headers: str
) -> tuple[int, str, http.client.HTTPMessage]:
    """Status, body and headers; an underscore in a header's name is a dash."""
    host = address.removeprefix("http://").rstrip("/")
    with closing(http.client.HTTPConnection(host, timeout=20)) as line:
        line.putrequest(method, path, skip_host=True)
        for name, value in ({"Host": host} | headers).items():
            line.putheader(name.replace("_", "-"), value)
        line.endheaders()
        reply = line.getresponse()
        return reply.status, reply.read().decode("utf-8"), reply.headers


def port_of(address: str) -> str:
    return address.rstrip("/").rpartition(":")[2]


def test_the_page_and_its_number(address: str) -> None:
    status, text, headers = ask(address)
    assert (status, text) == (200, PAGE)
    assert headers["Cache-Control"] == "no-store"
    assert headers["Content-Security-Policy"] == "frame-ancestors 'none'"
    assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert headers["Access-Control-Allow-Origin"] is None
    assert ask(address, "/state")[:2] == (200, "3")


def test_it_listens_on_the_loopback_alone(address: str) -> None:
    assert address.startswith("http://127.0.0.1:")
    # Bound to no other of this machine's addresses: even another of the loopback's is refused.
    with closing(socket.socket()) as other:
        other.settimeout(5)
        with pytest.raises(ConnectionRefusedError):
            other.connect(("127.0.0.2", int(port_of(address))))


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST", "127.0.0.1"])
def test_its_own_names(address: str, host: str) -> None:
    assert ask(address, Host=f"{host}:{port_of(address)}")[0] == 200


@pytest.mark.parametrize(
    "host",
    ["evil.example:{}", "127.0.0.1.evil.example:{}", "127.0.0.1", "127.0.0.1:1", "", "[::1]:{}"],
)
def test_a_name_that_others_pointed_here_is_refused(address: str, host: str) -> None:
    for path in ("/", "/state"):
        status, text, _ = ask(address, path, Host=host.format(port_of(address)))
        assert status == 403
        assert "Ä" not in text


@pytest.mark.parametrize(
    ("headers", "path", "status"),
    [
        ({"Origin": "http://evil.example"}, "/state", 403),
        ({"Origin": "null"}, "/", 403),
        ({"Origin": "http://127.0.0.1:1"}, "/", 403),
        ({"Sec_Fetch_Site": "cross-site"}, "/state", 403),
        ({"Sec_Fetch_Site": "same-site"}, "/", 403),
        ({"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Dest": "iframe"}, "/", 403),
        # A link in a mail may open it.
        ({"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Dest": "document"}, "/", 200),
        ({"Sec_Fetch_Site": "same-origin"}, "/state", 200),
        ({"Sec_Fetch_Site": "none", "Sec_Fetch_Dest": "document"}, "/", 200),
    ],
)
def test_no_other_site_reads_it(
    address: str, headers: dict[str, str], path: str, status: int
) -> None:
    assert ask(address, path, **headers)[0] == status


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/../sim", 404),
        ("GET", "/index.html", 404),
        ("POST", "/", 501),
        ("DELETE", "/", 501),
    ],
)
def test_there_is_nothing_else(address: str, method: str, path: str, status: int) -> None:
    assert ask(address, path, method)[0] == status


def test_it_is_gone_after_the_block() -> None:
    with serving(Served(), 0) as found:
        assert ask(found)[0] == 200
    with pytest.raises(ConnectionRefusedError):
        ask(found)


def test_a_port_that_is_taken_is_a_sentence(address: str) -> None:
    with (
        pytest.raises(OutputError, match=r"--port = \d+: cannot be served on"),
        serving(Served(), int(port_of(address))),
    ):
        pass
