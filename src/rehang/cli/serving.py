"""``rehang serve`` and ``rehang bench``: the bench in a browser."""

from __future__ import annotations

import importlib
import socket
import webbrowser
from pathlib import Path

from cyclopts import App

from rehang.cli.asked import Store
from rehang.trade.terms.errors import BadInput

__all__ = ["register"]


def register(app: App, *, store: Store) -> None:
    """Add the commands to the program. ``store`` opens the book."""

    @app.command(name="serve")
    def _serve(
        *,
        shop: bool = False,
        host: str = "",
        port: int = 8000,
        certificate: Path | None = None,
        key: Path | None = None,
    ) -> int:
        """Serve the bench in a browser; with --shop to every phone in the shop's Wi-Fi.

        Example: rehang serve --shop

        Parameters
        ----------
        shop
            Serve the shop's network by HTTPS, with a certificate of the shop's own.
        host
            Address to serve on: this machine alone, or with --shop every address it has. Without --shop
            anything but this machine is refused until every person has a password.
        port
            Port to serve on.
        certificate
            A certificate that the shop has already, as PEM, in place of its own.
        key
            The key of that certificate, as PEM.
        """
        store()
        papers = None
        if shop or certificate or key:
            of = importlib.import_module("rehang.site.certificates")
            if bool(certificate) != bool(key):
                raise BadInput(
                    "A certificate and its key go together: give --certificate and --key."
                )
            data = importlib.import_module("rehang.site.settings").REHANG_DATA
            papers = of.GivenPapers(certificate, key) if certificate else of.OwnPapers(data)
        host = host or ("0.0.0.0" if papers else "127.0.0.1")  # noqa: S104  (the shop's network is asked for)
        importlib.import_module("rehang.site.serve").serve(host=host, port=port, papers=papers)
        return 0

    @app.command(name="bench")
    def _bench(*, port: int = 8000) -> int:
        """Open the bench in the browser, served first where it is not; rehang alone does the same.

        Example: rehang bench

        Parameters
        ----------
        port
            Port to serve on; a free one where something else has it.
        """
        store()
        serving = importlib.import_module("rehang.site.serve")
        there = serving.served_at()
        if there:
            print(f"The bench is served already, at {there}")
            webbrowser.open(there)
            return 0

        def ready(address: str) -> None:
            print(
                f"The bench is at {address} Close this window, or press Ctrl+C, to stop it.",
                flush=True,
            )
            webbrowser.open(address)

        serving.serve(port=port if _is_free(port) else 0, ready=ready)
        return 0


def _is_free(port: int) -> bool:
    with socket.socket() as probe:
        try:
            probe.bind(("127.0.0.1", port))
        except OSError:
            return False
    return True
