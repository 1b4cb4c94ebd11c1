"""Many people who do the same thing at the same moment. A test of them uses the fixture `threads`."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

from django.core.exceptions import ValidationError
from django.db import connections

CLIENTS = 20


def at_once(act) -> int:
    """Do an act in CLIENTS threads at the same moment; return how many were not refused."""
    ready = Barrier(CLIENTS)

    def client(number: int) -> bool:
        try:
            ready.wait(timeout=30)
            act(number)
            return True
        except ValidationError:
            return False
        finally:
            connections.close_all()

    with ThreadPoolExecutor(CLIENTS) as pool:
        return sum(pool.map(client, range(CLIENTS)))
