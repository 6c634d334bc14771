"""The shop: the history of every car, in one file and a photo folder, or in a database a club shares."""

from carwright.shop.address import Address, address_of
from carwright.shop.faults import ShopError
from carwright.shop.opening import open_shop, upgrade_shop
from carwright.shop.sheets import Added, Given
from carwright.shop.shop import Shop

__all__ = ["Added", "Address", "Given", "Shop", "ShopError", "address_of", "open_shop", "upgrade_shop"]
