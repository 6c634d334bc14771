"""``carwright serve``: the web app, for the bench and for the phone beside it."""

from __future__ import annotations

import click

from carwright.shop.address import VARIABLE, address_of
from carwright.shop.faults import NoShopError
from carwright.shop.opening import open_shop


@click.command("serve")
@click.option(
    "--shop",
    "place",
    default="",
    metavar="FILE|URL",
    help="The shop: a file, or a PostgreSQL URL; else $CARWRIGHT_SHOP, else your own, else the demo shop.",
)
@click.option("--demo", is_flag=True, help="Serve the demo shop, though there is another one.")
@click.option("--lan", is_flag=True, help="Let other devices on the house network in, each paired by a code.")
@click.option("--tls", is_flag=True, help="Encrypt, by a certificate carwright makes itself.")
@click.option("--port", type=click.IntRange(0, 65535), default=8300, show_default=True, help="Where to listen; 0: any.")
def command(place: str, *, demo: bool, lan: bool, tls: bool, port: int) -> None:
    """Serve the web app; without --lan to this machine alone. Ctrl-C ends it.

    A shop that is named and not there is started; where none is named and there is none, the demo shop is served.
    """
    import os  # noqa: PLC0415 - for one question

    from carwright.web.serve import serve  # noqa: PLC0415 - the web framework is loaded only here

    named = bool(place or os.environ.get(VARIABLE, ""))
    is_demo = demo
    if demo:
        from carwright.shop.demo import open_demo  # noqa: PLC0415

        shop = open_demo(address_of(place) if place else None, whole=False)
    else:
        try:
            shop = open_shop(place, create=named)
        except NoShopError:
            from carwright.shop.demo import open_demo  # noqa: PLC0415

            shop, is_demo = open_demo(whole=False), True
    serve(shop, say=click.echo, is_demo=is_demo, lan=lan, tls=tls, port=port)
