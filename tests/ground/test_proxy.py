"""The proxy's own configuration, run by the real program in front of small servers that record what arrives."""

from __future__ import annotations

import http.client
import re
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from coachhub.bootstrap import debian, layout, ports
from coachhub.bootstrap.children import Child

pytestmark = [
    pytest.mark.unit,
    pytest.mark.skipif(debian.find_program("nginx") is None, reason="nginx is not installed"),
]
CLIP = bytes(range(256)) * 40


class Recorder(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def log_message(self, *args):
        pass

    def answer(self, status, body=b"", **headers):
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name.replace("_", "-"), value)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)


class Site(Recorder):
    def do_GET(self):
        self.server.seen.append(dict(self.headers))
        if self.path == "/media/clip":
            self.answer(
                200,
                X_Accel_Redirect="/protected/bucket/clip.mp4?X-Amz-Signature=abc",
                Content_Type="video/mp4",
            )
        else:
            self.answer(200, b"page")

    def do_PATCH(self):
        first = self.rfile.read(4)
        self.server.first_bytes.set()
        rest = self.rfile.read(int(self.headers["Content-Length"]) - 4)
        self.server.seen.append({**dict(self.headers), "body": first + rest})
        self.answer(204)

    do_POST = do_PATCH


class Store(Recorder):
    def do_GET(self):
        self.server.seen.append({"path": self.path, **dict(self.headers)})
        found = re.match(r"bytes=(\d+)-(\d+)$", self.headers.get("Range", ""))
        if found:
            start, end = int(found[1]), int(found[2])
            part, span = CLIP[start : end + 1], f"bytes {start}-{end}/{len(CLIP)}"
            self.answer(206, part, Content_Range=span, x_amz_request_id="1", Content_Type="video/mp4")
        else:
            self.answer(200, CLIP, Content_Type="video/mp4")


def serve(handler):
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    server.seen, server.first_bytes = [], threading.Event()
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return server


def localised(folder: Path, site: int, store: int, port: int) -> Path:
    """The configuration as it is, with the names of the compose file's services replaced by loopback addresses."""
    text = (layout.ROOT / ".docker" / "nginx.conf").read_text()
    for old, new in (
        ("server web:8000;", f"server 127.0.0.1:{site};"),
        ("http://store:9000/", f"http://127.0.0.1:{store}/"),
        ("listen 8080;", f"listen 127.0.0.1:{port};"),
        ("/tmp/nginx.pid", str(folder / "nginx.pid")),
        ("http {", f"http {{\n    client_body_temp_path {folder}/body; proxy_temp_path {folder}/proxy;"),
    ):
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = folder / "nginx.conf"
    path.write_text(text)
    return path


@pytest.fixture
def proxy(tmp_path):
    site, store, port = serve(Site), serve(Store), ports.free_port()
    conf = localised(tmp_path, site.server_port, store.server_port, port)
    command = [debian.find_program("nginx"), "-c", str(conf), "-p", str(tmp_path), "-g", "daemon off;"]
    child = Child("proxy", command, tmp_path / "log")
    child.start()
    try:
        for _ in range(100):
            if ports.answers("127.0.0.1", port):
                break
            child.process.poll()
            threading.Event().wait(0.05)
        assert child.alive(), child.last_words()
        client = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
        yield site, store, client
        client.close()
    finally:
        child.stop()
        for server in (site, store):
            server.shutdown()
            server.server_close()


def test_a_page_goes_through_with_host_and_scheme(proxy):
    site, _, client = proxy
    client.request("GET", "/my/", headers={"Host": "camp.example", "X-Forwarded-Proto": "https"})
    assert client.getresponse().read() == b"page"
    assert (site.seen[0]["Host"], site.seen[0]["X-Forwarded-Proto"]) == ("camp.example", "https")
    client.request("GET", "/my/")
    client.getresponse().read()
    assert site.seen[1]["X-Forwarded-Proto"] == "http"


def test_the_first_bytes_of_an_upload_arrive_before_its_last(proxy):
    site, _, client = proxy
    client.putrequest("PATCH", "/uploads/1")
    client.putheader("Content-Length", "8")
    client.endheaders()
    client.send(b"half")
    assert site.first_bytes.wait(5), "the proxy kept the bytes back"
    client.send(b"done")
    assert client.getresponse().status == 204
    assert site.seen[0]["body"] == b"halfdone"


@pytest.mark.parametrize(
    "path, megabytes, status", [("/uploads/", 521, 413), ("/coach/", 33, 413), ("/uploads/", 1, 204)]
)
def test_too_large_bodies_are_stopped_at_the_door(proxy, path, megabytes, status):
    site, _, client = proxy
    size = megabytes * 1024 * 1024
    client.putrequest("POST", path)
    client.putheader("Content-Length", str(size))
    client.endheaders()
    if status == 204:
        client.send(b"x" * size)
    assert client.getresponse().status == status
    assert len(site.seen) == (status == 204)


def test_the_protected_place_can_not_be_asked_for_directly(proxy):
    _, store, client = proxy
    client.request("GET", "/protected/bucket/clip.mp4?X-Amz-Signature=abc")
    assert client.getresponse().status == 404
    assert store.seen == []


def test_media_comes_from_the_store_by_the_sites_word_with_ranges(proxy):
    _, store, client = proxy
    client.request("GET", "/media/clip", headers={"Range": "bytes=100-199", "Cookie": "sessionid=secret"})
    response = client.getresponse()
    assert (response.status, response.read()) == (206, CLIP[100:200])
    assert response.getheader("Content-Range") == f"bytes 100-199/{len(CLIP)}"
    assert response.getheader("x-amz-request-id") is None
    asked = store.seen[0]
    assert asked["path"] == "/bucket/clip.mp4?X-Amz-Signature=abc"
    assert asked["Host"] == "store:9000"
    assert "Cookie" not in asked
