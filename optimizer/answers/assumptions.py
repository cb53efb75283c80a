"""What the figures rest on."""

from collections.abc import Iterable, Iterator

from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.parts import Kind, Part
from optimizer.model.rig import Rig
from optimizer.model.said import Quantity, Said
from optimizer.model.standard_ends import PRACTICE
from optimizer.model.usual_figures import assumed_figures


def basis_lines(
    rig: Rig, limits: Limits, catalog: Catalog, laws: tuple[str, ...] = (), bought: Iterable[Part] = ()
) -> tuple[str, ...]:
    """The basis of every figure in the answer, one line each; ``laws`` are those on the laws of fittings, ``bought`` the parts
    that the bill is for."""
    tank = rig.tank
    share = tank.net_m3 / tank.nominal_m3
    lines: list[str] = [
        "Delivered flow: computed, on the clean day, where the pump's head meets the loop's losses; not the label's flow. Single "
        "fittings scatter by tens of per cent, so measure before and after.",
        Said(
            *("Turnover: delivered flow over the net volume of ", Quantity(tank.net_m3, "volume", f"{tank.net_m3 * 1e3:.0f} l")),
            f" ({share:.0%} of nominal).",
        ),
        f"Water: {tank.temperature_c:.0f} degC" + (f", {tank.salinity_gkg:.0f} g/kg salt." if tank.salinity_gkg else ", fresh."),
        f"Prices: {catalog.name}" + (f", in {catalog.currency}." if catalog.currency else "."),
        Said(
            *("Noise: the pump's figure at ", Quantity(1.0, "height", "1 m"), ", taken to "),
            Quantity(rig.listen_m, "height", f"{rig.listen_m:.3g} m"),
            f" less {rig.cabinet_db:g} dB for the cabinet." if rig.cabinet_db else " in the open.",
        ),
        f"Mains: {rig.mains_hz:.0f} Hz; pumps that follow the mains are scaled by the affinity laws.",
        "Only a rise of the outlet above the water line counts as lift; height below the tank costs nothing.",
        *laws,
    ]
    if limits.bio_area_m2:
        area = Quantity(limits.bio_area_m2, "area", f"{limits.bio_area_m2:.2f} m2")
        lines.append(Said("Surface for bacteria: at least ", area, " asked."))
    if _has_bio_media(rig) and not rig.positions[rig.index(Kind.CANISTER)].stays:
        lines.append("Trays of biological media are kept, cleaned or filled anew, never left empty.")
    return (*lines, *_assumed(bought), *rig.notes)


def _assumed(parts: Iterable[Part]) -> Iterator[str]:
    """What nobody states of parts, each once, and what it is worth."""
    found = {part.id: part for part in parts if part.assumed}
    for part in found.values():
        yield Said(f"Assumed of {part.name} ({part.id}): ", assumed_figures(part), ".")
    if found:
        yield (
            f"What is assumed is {PRACTICE} (rules: fullbore columns), and four in five such parts lie within. What is measured "
            "or asked for goes into its place in the catalog."
        )


def _has_bio_media(rig: Rig) -> bool:
    return any(tray.medium is not None and tray.medium.biological for tray in rig.trays)
