"""The same parts on a Dask cluster: ``--scheduler ADDRESS``.

Addresses of this machine, or tls:// elsewhere (certificates as Dask's own configuration
names them): work is code, and code goes to no stranger. A part whose worker dies is done by
another. Leans on ``seasons``; dask.distributed (extra ``cluster``).
"""

import ipaddress
from collections.abc import Iterator, Sequence
from urllib.parse import urlsplit

from wickstats.core.errors import AnalysisError
from wickstats.core.words import say
from wickstats.sizing.seasons import do_part
from wickstats.sizing.tally import Tally

AHEAD = 200  # parts handed over at a time
RETRIES = 10  # a part is given up when its worker died so often


def checked_address(address: str) -> str:
    """The address, with its scheme.

    Raises
    ------
    ValueError
        For one that is neither of this machine nor tls://.
    """
    full = address if "://" in address else f"tcp://{address}"
    parts = urlsplit(full)
    try:
        host, port = parts.hostname, parts.port
    except ValueError:
        host, port = None, None
    if not host or port is None or parts.scheme not in ("tcp", "tls"):
        raise ValueError(say("scheduler address", address=address))
    if parts.scheme == "tcp" and not _of_this_machine(host):
        raise ValueError(say("scheduler elsewhere", address=address))
    return full


def _of_this_machine(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def on_cluster(
    address: str, data: Sequence[bytes], items: Sequence[tuple[int, int]]
) -> Iterator[tuple[tuple[int, int], Tally]]:
    """Parts as they are finished.

    Raises
    ------
    AnalysisError
        Where Dask is not installed or the scheduler does not answer.
    """
    try:
        from distributed import Client, as_completed
    except ImportError as error:
        raise AnalysisError(say("scheduler missing")) from error
    try:
        client = Client(checked_address(address), timeout="10s", set_as_default=False)
    except (OSError, TimeoutError) as error:
        raise AnalysisError(say("scheduler silent", address=address)) from error
    with client:
        waiting = list(reversed(items))
        futures: dict[str, tuple[int, int]] = {}
        running = as_completed(loop=client.loop)
        while waiting or futures:
            while waiting and len(futures) < AHEAD:
                item = waiting.pop()
                # the work goes along with every part: what is put on a worker dies with it
                future = client.submit(
                    do_part, data[item[0]], item[1], pure=False, retries=RETRIES
                )
                futures[future.key] = item
                running.add(future)
            future = next(running)
            yield futures.pop(future.key), future.result()
