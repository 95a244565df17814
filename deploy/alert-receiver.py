#!/usr/bin/env python3
"""A small receiver of stationd's alerts, to try them out and to start one's own from.

Checks the signature as Standard Webhooks 1.0.0 says and appends each alert to a file, one JSON line each.

    alert-receiver.py PORT SECRET-FILE OUTPUT-FILE
"""
import base64
import hashlib
import hmac
import http.server
import json
import sys
import time

TOLERANCE_SECONDS = 300     # common practice, no source
LARGEST_BODY = 64 * 1024

port, secret_file, output_file = int(sys.argv[1]), sys.argv[2], sys.argv[3]
with open(secret_file, encoding="ascii") as file:
    key = base64.b64decode(file.read().strip().removeprefix("whsec_"))


def is_genuine(headers, body):
    """True when one of the signatures is the HMAC-SHA256 of id.timestamp.body and the timestamp is recent."""
    message_id, stamp = headers.get("webhook-id", ""), headers.get("webhook-timestamp", "")
    if not stamp.isdigit() or abs(time.time() - int(stamp)) > TOLERANCE_SECONDS:
        return False
    digest = hmac.new(key, f"{message_id}.{stamp}.".encode() + body, hashlib.sha256).digest()
    wanted = "v1," + base64.b64encode(digest).decode()
    return any(hmac.compare_digest(wanted, given) for given in headers.get("webhook-signature", "").split())


class Receiver(http.server.BaseHTTPRequestHandler):
    def do_POST(self):
        length = int(self.headers.get("content-length", "0"))
        body = self.rfile.read(min(length, LARGEST_BODY))
        genuine = is_genuine(self.headers, body)
        if genuine:
            alert = json.loads(body)
            with open(output_file, "a", encoding="utf-8") as output:
                output.write(json.dumps({"id": self.headers["webhook-id"], **alert}, ensure_ascii=False) + "\n")
        self.send_response(204 if genuine else 401)
        self.end_headers()

    def log_message(self, format, *arguments):
        pass


http.server.ThreadingHTTPServer(("127.0.0.1", port), Receiver).serve_forever()
