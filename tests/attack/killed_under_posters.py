"""The server is killed while people post: `python -m tests.attack.killed_under_posters [KILLS]`, 200 by default.

With WEB_PROCESSES in the environment one of so many is killed each time, and the server begins it anew by itself.

On the database the environment names (SQLite without DATABASE_URL), in a demo studio of its own, on loopback. Eight
people discard drops of one lot, each with the form's own key; the server is killed by SIGKILL at a random moment and
started again. Whatever was answered as done must stand once in the ledger; whatever was not may stand once or not at
all; the audit finds nothing.
"""

from __future__ import annotations

import os
import random
import signal
import socket
import sys
import tempfile
import threading
import time
from pathlib import Path

from tests.attack.bad_inputs import Browser, form_to
from tests.serving import manage, own_database, serve, wait_for, web_processes_of

POSTERS = 8
LOT = """
from studio.stockroom.models import Lot
print(Lot.objects.filter(material__stock_unit="mL", state="usable", level__on_hand__gt=1000).order_by("-level__on_hand")
      .values_list("pk", flat=True).first())
"""
KEYS = "from studio.stockroom.models import Posting\nprint(*Posting.objects.values_list('key', flat=True))"


def post_drops(address: str, lot: str, ends: threading.Event, answered: set[str], sent: set[str], lock: threading.Lock) -> None:
    """Discard a drop again and again. A key is answered once its redirect came back."""
    visitor = Browser(address)
    where = f"/stockroom/lots/{lot}/discard/"
    while not ends.is_set():
        try:
            if "sessionid" not in visitor.cookies:
                visitor.log_in("maud", "quiet-silver-owner")
            form = form_to(visitor.get(f"/stockroom/lots/{lot}/").text, where)
            key = form.get("key", "")
            if not key:
                continue
            with lock:
                sent.add(key)
            if visitor.post(where, [*form.items(), ("amount", "0.001 mL"), ("why", "a drop")]).status == 302:
                with lock:
                    answered.add(key)
        except (OSError, AssertionError, RuntimeError):  # the server is being killed: nobody lets anybody in
            visitor.close()
            visitor = Browser(address)
            time.sleep(0.05)
    visitor.close()


def main(kills: int = 200) -> int:
    chance, several = random.Random(), int(os.environ.get("WEB_PROCESSES", "1")) > 1
    answered: set[str] = set()
    sent: set[str] = set()
    lock, ends = threading.Lock(), threading.Event()
    with tempfile.TemporaryDirectory() as folder, own_database(Path(folder), "daybook_posters", "demo") as environment:
        lot = manage(environment, "shell", "--no-imports", "-c", LOT).strip()
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        address = f"http://127.0.0.1:{port}"
        environment = {**environment, "PUBLIC_URL": address}
        server = serve(environment, port)
        wait_for(address)
        posters = [threading.Thread(target=post_drops, args=(address, lot, ends, answered, sent, lock), daemon=True)
                   for _ in range(POSTERS)]
        for poster in posters:
            poster.start()
        for _ in range(kills):
            time.sleep(chance.uniform(0.2, 2.5))
            if several:
                if running := web_processes_of(server):
                    os.kill(chance.choice(running), signal.SIGKILL)
                continue
            server.send_signal(signal.SIGKILL)
            server.wait()
            server = serve(environment, port)
            wait_for(address)
        time.sleep(2)
        ends.set()
        for poster in posters:
            poster.join(30)
        server.terminate()
        server.wait(15)
        kept = manage(environment, "shell", "--no-imports", "-c", KEYS).split()
        lost, twice = answered - set(kept), len(kept) - len(set(kept))
        print(f"{kills} kills, {len(sent)} posts sent, {len(answered)} answered, {len(sent & set(kept))} kept: "
              f"{len(lost)} lost, {twice} counted twice")
        print(manage(environment, "audit").strip())
    return 1 if lost or twice or not answered else 0


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:2])))
