"""What to take in the place of a part that is not to be had: something that mates alike, for what it then delivers."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from optimizer.answers.question import Question
from optimizer.answers.rows import Standing, row, standing
from optimizer.loop.kinds import parts_of
from optimizer.loop.terms import chained_quadratic
from optimizer.model.dossiers import Substitute
from optimizer.model.ends import End
from optimizer.model.items import Item, part_item
from optimizer.model.options import ADD, SWAP, Chain, Option, OrientedAdapter
from optimizer.model.parts import Fitting
from optimizer.physics.fitting_laws import CHOSEN, FittingLaws
from optimizer.search.best import Seeker
from optimizer.search.pricing import Shop

NEAR = 0.95
"""Of parts that keep this share of the flow the cheapest is taken; where none does, the one that keeps most."""


@dataclass(frozen=True, slots=True)
class _Offer:
    """A substitute, not yet held against the others."""

    product: int
    name: str
    price: int
    flow_m3s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Substitutes:
    """Finds substitutes for the pieces of the best bundle ``stands``, priced as if nothing else were bought with them."""

    question: Question
    seeker: Seeker
    stands: Standing

    @property
    def shop(self) -> Shop:
        """The shop that the bundle was priced in."""
        return self.seeker.problem.shop

    def for_closure(self, item: Item, product: int) -> Substitute | None:
        """Another product that makes the same joint tight. The flow does not change."""
        servers = [s for s in self.shop.servers(item.key) if s.product != product and self._is_sold(s.product)]
        parts = [(s, self.shop.products[s.product].lines[s.line].part_id) for s in servers if self.shop.reaches(s, item)]
        offers = [_Offer(s.product, self.shop.parts[p].name, self.shop.single_price(s, item), 0.0) for s, p in parts]
        return self._best(offers)

    def for_option(self, place: int) -> Substitute | None:
        """Another part for a position of the loop, with the same ends, within all limits but the budget."""
        taken = self.stands.options[place]
        if taken.part is None or taken.change not in (SWAP, ADD) or len(taken.items) != 1:
            return None
        menu = self.seeker.problem.choices.options[place]
        alike = [o for o in menu if o.change == taken.change and len(o.items) == 1 and _mates_alike(o, taken)]
        return self._best(offer for option in alike for offer in self._offered(option.items[0], self._with_option(place, option)))

    def for_adapter(self, place: int, turned: OrientedAdapter) -> Substitute | None:
        """Another adapter with the same ends, in the joint in front of a position of the loop."""
        ends = (_face(turned.entry), _face(turned.exit))
        offers: list[_Offer] = []
        for part in parts_of(self.shop.parts.values(), Fitting):
            if part.role != turned.part.role or part.id == turned.part.id:
                continue
            for other in (OrientedAdapter(part, False), OrientedAdapter(part, True)):
                if (_face(other.entry), _face(other.exit)) == ends:
                    offers += self._offered(part_item(part.id), self._with_adapter(place, turned, other))
                    break
        return self._best(offers)

    def _is_sold(self, product: int) -> bool:
        return not self.shop.products[product].owned

    def _offered(self, item: Item, flow_m3s: float) -> Iterator[_Offer]:
        """The cheapest product that has the item, if the loop flows with it."""
        if flow_m3s <= 0.0:
            return
        servers = [s for s in self.shop.servers(item.key) if self._is_sold(s.product) and self.shop.reaches(s, item)]
        if servers:
            least = min(servers, key=lambda s: (self.shop.single_price(s, item), s.product))
            name = self.shop.parts[item.key[1]].name
            yield _Offer(least.product, name, self.shop.single_price(least, item), flow_m3s)

    def _best(self, offers: Iterable[_Offer]) -> Substitute | None:
        found = sorted(offers, key=lambda offer: (offer.price, -offer.flow_m3s, self.shop.products[offer.product].id))
        if not found:
            return None
        near = [offer for offer in found if not offer.flow_m3s or offer.flow_m3s >= NEAR * self.stands.flow_m3s]
        taken = near[0] if near else max(found, key=lambda offer: offer.flow_m3s)
        product = self.shop.products[taken.product]
        return Substitute(product_id=product.id, name=taken.name, price=taken.price, flow_m3s=taken.flow_m3s)

    def _with_option(self, place: int, option: Option) -> float:
        """Flow with another option at a position; 0 where it breaks a limit."""
        options = [option if n == place else each for n, each in enumerate(self.stands.options)]
        there = [n for n, each in enumerate(options) if each.is_there]
        at = there.index(place)
        joints = list(self.stands.joints)
        for before, after in ((at - 1, at), (at, at + 1)):
            if before >= 0 and after < len(there):
                one, two = options[there[before]], options[there[after]]
                if one.outlet is None or two.inlet is None:
                    return 0.0
                joints[there[after]] = rejoined(joints[there[after]], one.outlet, two.inlet, self.question.rig.laws)
        return self._flow_m3s(options, joints)

    def _with_adapter(self, place: int, taken: OrientedAdapter, other: OrientedAdapter) -> float:
        """Flow with another adapter in a joint; 0 where that breaks a limit."""
        ahead, behind = self._neighbours(place)
        if ahead is None or behind is None:
            return 0.0
        joints = list(self.stands.joints)
        chain = joints[place]
        turned = tuple(other if each == taken else each for each in chain.adapters)
        joints[place] = rejoined(replace(chain, adapters=turned), ahead, behind, self.question.rig.laws)
        return self._flow_m3s(self.stands.options, joints)

    def _neighbours(self, place: int) -> tuple[End | None, End | None]:
        before = [option for option in self.stands.options[:place] if option.is_there]
        return before[-1].outlet if before else None, self.stands.options[place].inlet

    def _flow_m3s(self, options: Sequence[Option], joints: Sequence[Chain]) -> float:
        rig, limits, stands = self.question.rig, self.question.limits.without("budget"), self.stands
        held = (stands.flow_m3s, stands.held_by) if stands.held_by else None
        tried = standing(rig, self.seeker.problem.choices.water, options, joints, 0, held)
        return 0.0 if row("", rig, limits, tried).breaks else tried.flow_m3s


def _face(end: End | None) -> tuple[object, ...]:
    """All that decides what an end mates with and what makes it tight."""
    return () if end is None else (*end.face, round(end.outside_m, 6))


def _mates_alike(one: Option, other: Option) -> bool:
    if one.part is None or other.part is None or one.part.id == other.part.id:
        return False
    return (_face(one.inlet), _face(one.outlet)) == (_face(other.inlet), _face(other.outlet))


def rejoined(chain: Chain, ahead: End, behind: End, laws: FittingLaws = CHOSEN) -> Chain:
    """The joint with its loss for the bores it now has around and inside it: steps of bore, and the adapters between them."""
    return replace(chain, quadratic=chained_quadratic(ahead.bore_m, chain.adapters, behind.bore_m, laws))
