"""Cabins stepped through a trip: what each loses and gains, and what its heaters add."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Sequence

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.van import air
from sim.van.cabin import FAN_RAMP_K, Box, Cabin, CabinHours, Devices

# A fan by hand runs only where it leaves the cabin at least this warm (common practice, no
# source): in a heated evening people keep the roof shut but for a crack.
FAN_BY_HAND_ABOVE_C = 20.0
_SPEED_ROUNDS = 2  # bring a fan's speed to some per cent of what its warmth asks for


def cabin_hours(cabins: Sequence[Cabin], *, step_hours: float) -> list[CabinHours]:
    """Step the temperature of cabins through a trip, side by side.

    Parameters
    ----------
    cabins : sequence of Cabin
        Of the same numbers of steps and draws. Each is stepped by itself: the numbers do not
        depend on what goes beside it.
    step_hours : float

    Returns
    -------
    list of CabinHours
        In the order of the cabins.

    Notes
    -----
    Each step is solved exactly for inputs that hold through it,
    ``T(t) = T_end + (T_0 - T_end) exp(-t UA / C)``, so its length hardly matters. Heaters, in
    their order, give what brings the cabin to their set point by the end of the step, as far as
    they can. Then windows are opened as far as holding `vent_above_c` takes, and fans on a
    thermostat carry out more, both only while it is cooler outside; where the air conditioner
    with windows shut brings it lower, it does so instead. Cold boxes go by the warmth at the start.
    """
    (hours, draws), count = cabins[0].temp_air.shape, len(cabins)
    at = _SideBySide(cabins, step_hours)
    temp, end, box, fresh = (np.empty((count, hours, draws)) for _ in range(4))
    heat, cool = np.zeros((len(at.heat_w), count, hours, draws)), np.zeros((count, hours, draws))
    by_hand = np.zeros((count, hours, draws), dtype=bool)
    now = at.departure_c()
    for hour in range(hours):
        outside, hand_w_k = at.temp_air[hour], None
        box[:, hour] = box_w = at.box_w(hour, now)
        fresh[:, hour] = fresh_l_s = at.outdoor_air_l_s(hour, now - outside)
        ua_w_k = at.ua_w_k + air.carried_w_k(fresh_l_s)
        shut = _Step(outside, at.gain_w[hour] + box_w, now, ua_w_k, at.k_h_per_wh)
        if at.any_by_hand[hour]:
            most_w_k = at.hand_w_k[hour]
            on = (shut.with_more(most_w_k) >= at.hand_above_c[hour]) & (most_w_k > 0.0)
            by_hand[:, hour], hand_w_k = on, most_w_k * on
            shut = shut.aired(hand_w_k)
        free = at.heated(hour, shut, heat)
        aired = at.aired(hour, shut, free, hand_w_k)
        free = at.cooled(hour, shut, free, aired, cool)
        temp[:, hour] = (now + free) / 2.0
        end[:, hour] = now = free
    return [
        # The warmth of one is kept for longer than all the others are.
        CabinHours(
            temp[k].copy(),
            end[k],
            heat[: len(one.devices.heat_w), k],
            cool[k],
            box[k],
            by_hand[k],
            fresh[k],
        )
        for k, one in enumerate(cabins)
    ]


class _Step:
    """One step of cabins at a given heat loss, solved for its end. Arrays of shape (W, D), or
    that spread over it."""

    def __init__(
        self, outside: Floats, gain: Floats, now: Floats, ua_w_k: Floats, k_h_per_wh: Floats
    ) -> None:
        self.outside, self.gain, self.now, self.ua_w_k = outside, gain, now, ua_w_k
        self.k_h_per_wh = k_h_per_wh
        self.end_c, self._kept = self._end(ua_w_k)
        self._k_per_w: Floats | None = None

    def _end(self, ua_w_k: Floats) -> tuple[Floats, Floats]:
        """The end at a heat loss [deg C], and the share kept of what was there at the start."""
        kept = ua_w_k * self.k_h_per_wh
        np.exp(kept, out=kept)
        level = self.gain / ua_w_k
        level += self.outside
        end = self.now - level
        end *= kept
        end += level
        return end, kept

    @property
    def k_per_w(self) -> Floats:
        """What a watt through the whole step adds to the end. [K/W]"""
        if self._k_per_w is None:
            self._k_per_w = (1.0 - self._kept) / self.ua_w_k
        return self._k_per_w

    def with_more(self, more_w_k: Floats) -> Floats:
        """The end of the same step with more air let through. [deg C]"""
        return self._end(self.ua_w_k + more_w_k)[0]

    def aired(self, more_w_k: Floats) -> _Step:
        """The same step with more air let through."""
        ua_w_k = self.ua_w_k + more_w_k
        return _Step(self.outside, self.gain, self.now, ua_w_k, self.k_h_per_wh)


class _SideBySide:
    """W cabins as one: arrays of shape (H, W, D), or with one draw where all are alike.

    What makes no difference in a step is left out where that is so in all cabins.
    """

    def __init__(self, cabins: Sequence[Cabin], step_hours: float) -> None:
        devices, shells = [x.devices for x in cabins], [x.shell for x in cabins]
        outside = [x.temp_air for x in cabins]
        is_one = all(x is outside[0] for x in outside)
        self.temp_air = np.stack(outside[:1] if is_one else outside, axis=1)
        self.gain_w = np.stack([x.gain_w for x in cabins], axis=1)
        self.leak_cm2 = _column(x.leak_cm2 for x in shells)
        self.ua_w_k = _column(x.ua_w_k for x in shells)
        self.k_h_per_wh = _column(-step_hours / x.mass_wh_k for x in shells)
        self.wind_m_s = _by_step(x.wind_m_s for x in devices)
        self.fresh_l_s = _by_step(x.fresh_l_s for x in devices)
        self.boxes = list(_boxes(devices))
        self.set_heaters(devices)
        self.set_air(cabins)

    def set_heaters(self, devices: Sequence[Devices]) -> None:
        """The heaters by their number; a cabin with fewer has others that give nothing."""
        off = np.zeros(len(self.temp_air))
        numbers = range(max(len(x.heat_w) for x in devices))
        self.heat_w = [
            _by_step(x.heat_w[k] if k < len(x.heat_w) else off for x in devices) for k in numbers
        ]
        self.set_point_c = [
            _by_step(x.set_point_c[k] if k < len(x.heat_w) else off - np.inf for x in devices)
            for k in numbers
        ]
        self.any_heat = [_any(watts > 0.0) for watts in self.heat_w]

    def set_air(self, cabins: Sequence[Cabin]) -> None:
        """Fans, windows and air conditioners, and from what warmth on they matter."""
        devices, shells = [x.devices for x in cabins], [x.shell for x in cabins]
        self.hand_w_k = _by_step(x.hand_w_k for x in devices)
        self.any_by_hand = _any(self.hand_w_k > 0.0)
        heated_c = (x.set_point_c.max(axis=0, initial=-np.inf) for x in devices)
        self.hand_above_c = np.maximum(_by_step(heated_c), FAN_BY_HAND_ABOVE_C)
        aboard = _by_step(x.aboard for x in cabins)
        self.is_aboard = aboard > 0.0
        self.all_aboard = [bool(one.all()) for one in self.is_aboard]
        self.open_w_k = _column(x.vent_w_k for x in shells) * aboard
        self.vent_above_c = _column(x.vent_above_c for x in shells)
        self.fan_w_k = _column(x.fan_w_k for x in devices) * aboard
        self.any_fan = _any(self.fan_w_k > 0.0)
        # Where there is no fan, any number does.
        self.fan_above_c = _column(x.fan_above_c if x.fan_w_k else 0.0 for x in devices)
        fan_from_c = np.where(self.fan_w_k > 0.0, self.fan_above_c, np.inf)
        from_c = np.minimum(self.vent_above_c, fan_from_c)
        self.aired_from_c = np.where(self.is_aboard, from_c, np.inf)
        self.cool_w = _by_step(x.cool_w for x in devices) * self.is_aboard
        self.any_cool = _any(self.cool_w > 0.0)
        self.cool_above_c = _column(x.cool_above_c for x in devices)

    def departure_c(self) -> Floats:
        """Warmth at the start: that outside, or what the heaters hold. [deg C], shape (W, D)"""
        now = np.broadcast_to(self.temp_air[0], self.gain_w.shape[1:])
        for set_point_c, most_w in zip(self.set_point_c, self.heat_w, strict=True):
            now = np.where(most_w[0] > 0.0, np.maximum(now, set_point_c[0]), now)
        return now

    def box_w(self, hour: int, now: Floats) -> Floats:
        """What the cold boxes draw, and leave as heat. [W], shape (W, D)"""
        total = np.zeros_like(now)
        for box, rows, running in self.boxes:
            if len(rows) == len(now):
                total += running[hour] * box.watts(now)
            else:
                total[rows] += running[hour] * box.watts(now[rows])
        return total

    def outdoor_air_l_s(self, hour: int, rise_k: Floats) -> Floats:
        """Through leaks, or as much as people want where leaks give less. [L/s], shape (W, D)"""
        leaks = air.leak_l_s(rise_k, self.wind_m_s[hour], leak_cm2=self.leak_cm2)
        return np.asarray(np.maximum(leaks, self.fresh_l_s[hour]))

    def heated(self, hour: int, shut: _Step, heat: Floats) -> Floats:
        """The end of the step with the heaters, in their order [deg C], shape (W, D); sets what
        they give in `heat`, shape (K, W, H, D). [W]"""
        free = shut.end_c
        for number, any_heat in enumerate(self.any_heat):
            set_point_c = self.set_point_c[number][hour]
            if not any_heat[hour] or (free >= set_point_c).all():
                continue
            lift = np.maximum(set_point_c - free, 0.0)
            watts = np.minimum(lift / shut.k_per_w, self.heat_w[number][hour])
            heat[number, :, hour] = watts
            free = free + watts * shut.k_per_w
        return free

    def cooled(self, hour: int, shut: _Step, free: Floats, aired: Floats, cool: Floats) -> Floats:
        """The end of a step in which people may shut the windows and cool [deg C]; sets what the
        air conditioner carries out in `cool`, shape (W, H, D). [W]"""
        if not self.any_cool[hour] or (free <= self.cool_above_c).all():
            return aired
        over = np.maximum(free - self.cool_above_c, 0.0)
        watts = np.minimum(over / shut.k_per_w, self.cool_w[hour])
        cooled = free - watts * shut.k_per_w
        # One too weak to beat open windows stays off, and they stay open.
        cool[:, hour] = watts = np.where(cooled < aired, watts, 0.0)
        return np.where(watts > 0.0, cooled, aired)

    def aired(self, hour: int, shut: _Step, free: Floats, hand_w_k: Floats | None) -> Floats:
        """The end of a step in which people aboard let air through as far as they like it
        cooler; `hand_w_k` is what fans by hand carry out. [deg C], shape (W, D)"""
        if (free <= self.aired_from_c[hour]).all():
            return free
        open_w_k = self.open_w_k[hour]
        wide_open = shut.with_more(open_w_k)
        # While it is warmer outside, shut windows keep it cooler.
        aired = np.minimum(free, np.maximum(wide_open, self.vent_above_c))
        if self.any_fan[hour]:
            # Where windows need not be wide open the fan does it alone.
            wide = wide_open > self.vent_above_c
            still, base_w_k = np.where(wide, aired, free), np.where(wide, open_w_k, 0.0)
            fan_w_k = self.fan_w_k[hour]
            if hand_w_k is not None:
                # Air that one fan pushes in another pulls out: the stronger counts.
                fan_w_k = np.maximum(fan_w_k - hand_w_k, 0.0)
            fanned, runs = self.fanned(shut, still, base_w_k, fan_w_k)
            aired = np.where(runs, np.minimum(aired, fanned), aired)
        return aired if self.all_aboard[hour] else np.where(self.is_aboard[hour], aired, free)

    def fanned(
        self, shut: _Step, still: Floats, base_w_k: Floats, fan_w_k: Floats
    ) -> tuple[Floats, Bools]:
        """The end of a step with fans on a thermostat beside open windows [deg C], and where
        they run."""
        over = still - self.fan_above_c
        fall = still - shut.with_more(base_w_k + fan_w_k)
        runs = (over > 0.0) & (fall > 0.0) & fan_w_k.any(axis=1, keepdims=True)
        if not runs.any():
            return still, runs
        # Full speed is reached FAN_RAMP_K above the start: speed and end are found together,
        # first along a straight line, then along the curve.
        speed = np.where(runs, np.minimum(over / (FAN_RAMP_K + fall), 1.0), 0.0)
        for _ in range(_SPEED_ROUNDS):
            reached = shut.with_more(base_w_k + speed * fan_w_k)
            too_fast = self.fan_above_c + FAN_RAMP_K * speed - reached
            slower = speed * over / np.maximum(over + too_fast, 1e-9)
            speed = np.where(runs, np.clip(slower, 0.0, 1.0), 0.0)
        fanned = shut.with_more(base_w_k + speed * fan_w_k)
        # Below its start a fan stands still, which the rounds overshoot where it is icy outside.
        return np.maximum(fanned, np.minimum(still, self.fan_above_c)), runs


def _boxes(devices: Sequence[Devices]) -> Iterator[tuple[Box, Ints, Floats]]:
    """The cold boxes by their order in each cabin, those of a kind together: one of them, the
    numbers of the cabins, and how many run there, shape (H, cabins, 1)."""
    for order in range(max(len(x.boxes) for x in devices)):
        kinds: dict[Hashable, list[int]] = {}
        for number, one in enumerate(devices):
            if order < len(one.boxes):
                kinds.setdefault(one.boxes[order].kind, []).append(number)
        for rows in kinds.values():
            same = [devices[number].boxes[order] for number in rows]
            yield same[0], np.array(rows), _by_step(x.running for x in same)


def _column(values: Iterable[float]) -> Floats:
    """One value of each cabin. shape (W, 1)"""
    return np.array(list(values), dtype=np.float64)[:, None]


def _by_step(values: Iterable[Floats]) -> Floats:
    """Values of each cabin by step. shape (H, W, 1)"""
    return np.stack(list(values), axis=1)[:, :, None]


def _any(is_so: Bools) -> list[bool]:
    """Whether something is so in any cabin, by step."""
    return [bool(one) for one in np.asarray(is_so.any(axis=(1, 2)))]
