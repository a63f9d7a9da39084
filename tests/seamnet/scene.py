"""A batch of pictures being drawn, and parts of it.

Most things are on a few pictures only. They are drawn on those alone: a part has the pictures' share of every map,
and what was changed in it is put back.
"""
import random
import types

import torch

from draws import Draws


class Whole:
    """Something whose tensors have one entry a picture."""

    def part(self, index, draws=None):
        return Part(self, index, draws or self.draws.for_part(len(index)))

    def some(self, share, among=None):
        """Yields one part, a random share of all pictures, and puts it back after the loop's body. May yield none.

        `among`, one number a picture, says which come first (the higher). The part's `on` is 0 where
        they were too few and others had to make up the number.
        """
        count = int(self.draws.count * share + random.random())
        if count == 0:
            return
        order = torch.rand(self.draws.count, device=self.draws.device)
        if among is not None:
            order = order + among.view(-1)
        index = torch.topk(order, count).indices
        part = self.part(index)
        on = torch.ones_like(order) if among is None else among.clamp(max=1)
        part.__dict__["on"] = on.view(-1, 1, 1)[index]
        yield part
        part.put_back()


class Part(Whole):
    def __init__(self, whole, index, draws):
        self.__dict__.update(whole=whole, index=index, draws=draws, changed=set())

    def __getattr__(self, name):
        value = getattr(self.whole, name)
        if isinstance(value, torch.Tensor) and value.shape[0] == self.whole.draws.count:
            value = value[self.index]
        elif isinstance(value, Whole):
            value = value.part(self.index, self.draws)
        elif isinstance(value, types.MethodType):
            return types.MethodType(value.__func__, self)
        self.__dict__[name] = value
        return value

    def __setattr__(self, name, value):
        self.__dict__[name] = value
        self.changed.add(name)

    def put_back(self):
        for name in self.changed:
            setattr(self.whole, name, getattr(self.whole, name).index_copy_(0, self.index, getattr(self, name)))


class Scene(Whole):
    def __init__(self, count, height, width, device):
        self.draws = Draws(count, height, width, device)
        rows = torch.arange(height, device=device).float() - height / 2
        columns = torch.arange(width, device=device).float() - width / 2
        y, x = torch.meshgrid(rows, columns, indexing="ij")
        self.x, self.y = x[None], y[None]
        size = (count, height, width)
        self.shade = torch.zeros(size, device=device)  # logarithm of the light that falls on the cloth
        self.label = torch.zeros((count, 2, height, width), device=device)
        self.visible = torch.ones(size, device=device)  # 0 where something hides the seams
        self.weight = torch.ones(size, device=device)
        self.image = None

    def darken(self, amount):
        self.shade = self.shade - amount

    def cover(self, share, colour):
        """Paints a colour over the picture where share [B,H,W] is 1."""
        self.image = torch.lerp(self.image, colour.expand_as(self.image), share[:, None])

    def hide(self, share):
        self.visible = self.visible * (1 - share)

    def mark(self, line, share_x):
        """Adds a line to the truth, on the map of its own direction."""
        down = torch.sigmoid((share_x - 0.5) * 14.0)
        self.label = torch.maximum(self.label, torch.stack((line * down, line * (1 - down)), 1))
