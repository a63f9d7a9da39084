"""Trains the network on pictures drawn while it trains, and on nothing else.

    python train.py OUT --minutes 22                             one GPU
    torchrun --nproc-per-node 2 train.py OUT --minutes 22        two GPUs
    python train.py OUT --steps 40 --batch 2 --device cpu --batches-at-once 1   a try without a GPU

Writes OUT/ck.pt every two minutes (weights, their running mean, the optimiser's state), OUT/log.txt, and at the end
OUT/cal.npz: maps and truth of fresh pictures, from which the confidence of a found line is fitted.
"""
import argparse
import math
import os
import random
import time

import numpy as np
import torch
import torch.distributed as distributed
import torch.nn.functional as F

from generate import Generator
from network import SeamNet

SHAPES = [(480, 640), (640, 480), (352, 640), (640, 352)]
WARM_UP_STEPS = 200
CHECKPOINT_SECONDS = 120
MAP_SIDE = 320


def loss_of(logits, label, weight):
    """Cross-entropy, in which the rare seam pixels count four times, and an overlap term for each map with a seam."""
    logits = logits.float()
    weight = weight.expand_as(label)
    more = torch.tensor(4.0, device=logits.device)
    entropy = F.binary_cross_entropy_with_logits(logits, label, reduction="none", pos_weight=more)
    found = torch.sigmoid(logits)
    both = (found * label * weight).sum((2, 3))
    either = (found * found * weight).sum((2, 3)) + (label * label * weight).sum((2, 3))
    overlap = 1 - (2 * both + 5) / (either + 5)
    has_seam = (label.amax((2, 3)) > 0.5).float()
    overlap = (overlap * has_seam).sum() / has_seam.sum().clamp(min=1)
    return 8 * (entropy * weight).mean() + 0.5 * overlap


def floats(net):
    return [value for value in net.state_dict().values() if value.dtype.is_floating_point]


class Training:
    def __init__(self, options):
        self.options = options
        self.rank = int(os.environ.get("RANK", 0))
        self.world = int(os.environ.get("WORLD_SIZE", 1))
        self.device = options.device if options.device == "cpu" else f"cuda:{self.rank}"
        if self.device != "cpu":
            torch.cuda.set_device(self.rank)
            torch.set_float32_matmul_precision("high")
        if self.world > 1:
            distributed.init_process_group("nccl")
        torch.manual_seed(options.seed)
        self.net = SeamNet().to(self.device)
        self.mean = SeamNet().to(self.device)
        self.mean.load_state_dict(self.net.state_dict())
        self.optimiser = torch.optim.AdamW(self.net.parameters(), lr=options.rate, weight_decay=1e-2)
        self.steps, self.spent = 0, 0.0
        if options.start:
            self._load(options.start)
        if self.device != "cpu":
            self.net = self.net.to(memory_format=torch.channels_last)
        self.mean_values, self.net_values = floats(self.mean), floats(self.net)
        seed = 1000 * (options.seed + 1) + 100 * self.steps + self.rank
        self.generator = Generator(self.device, seed, options.batches_at_once, options.views)
        random.seed(seed)

    def _load(self, path):
        saved = torch.load(path, map_location=self.device)
        self.net.load_state_dict(saved["net"])
        self.mean.load_state_dict(saved["mean"])
        self.optimiser.load_state_dict(saved["optimiser"])
        self.steps, self.spent = saved["steps"], saved["spent"]

    def save(self):
        saved = {
            "net": self.net.state_dict(),
            "mean": self.mean.state_dict(),
            "optimiser": self.optimiser.state_dict(),
            "steps": self.steps,
            "spent": self.spent,
        }
        path = os.path.join(self.options.out, "ck.pt")
        torch.save(saved, path + ".part")
        os.replace(path + ".part", path)

    def done(self):
        """Share of the training that is behind us, the same on every GPU."""
        if self.options.steps:
            return self.steps / self.options.steps
        share = self.spent / (60 * self._minutes())
        if self.world > 1:
            share = torch.tensor([share], device=self.device)
            distributed.all_reduce(share, distributed.ReduceOp.MAX)
            share = share.item()
        return share

    def _minutes(self):
        """The training's length, which may be changed on the way by writing another into OUT/minutes."""
        path = os.path.join(self.options.out, "minutes")
        return float(open(path).read()) if os.path.exists(path) else self.options.minutes

    def step(self, share):
        rate = self.options.rate * min(1, (self.steps + 1) / WARM_UP_STEPS)
        rate *= 0.5 * (1 + math.cos(math.pi * min(share, 1))) * 0.99 + 0.01
        for group in self.optimiser.param_groups:
            group["lr"] = rate
        picture, label, weight = self.generator.batch(self.options.batch, *SHAPES[self.steps % len(SHAPES)])
        with torch.autocast(self.device.split(":")[0], torch.bfloat16, enabled=self.device != "cpu"):
            logits = self.net(picture.contiguous(memory_format=torch.channels_last))
        loss = loss_of(logits, label, weight)
        self.optimiser.zero_grad(set_to_none=True)
        loss.backward()
        if self.world > 1:
            self._average_gradients()
        torch.nn.utils.clip_grad_norm_(self.net.parameters(), 1.0)
        self.optimiser.step()
        self.steps += 1
        self._follow()
        return loss.detach()

    def _average_gradients(self):
        gradients = [parameter.grad for parameter in self.net.parameters()]
        flat = torch.cat([gradient.reshape(-1) for gradient in gradients])
        distributed.all_reduce(flat)
        parts = (flat / self.world).split([gradient.numel() for gradient in gradients])
        for gradient, part in zip(gradients, parts):
            gradient.copy_(part.view_as(gradient))

    @torch.no_grad()
    def _follow(self):
        """Moves the running mean of the weights, which is what is kept, towards the weights."""
        keep = min(0.999, self.steps / (self.steps + 20))
        torch._foreach_lerp_(self.mean_values, self.net_values, 1 - keep)

    def run(self):
        losses, share = [], self.done()
        log = open(os.path.join(self.options.out, "log.txt"), "a") if self.rank == 0 else None
        began = time.time()
        saved_at = reported_at = time.time()
        reported_steps = self.steps
        while share < 1:
            losses.append(self.step(share))
            if self.steps % 10 == 0 or self.options.steps:
                now = time.time()
                self.spent, began = self.spent + now - began, now
                share = self.done()
            if log and (self.steps % 200 == 0 or self.steps in (2, 30, 60) or self.options.steps):
                mean_loss = torch.stack(losses).mean().item()
                speed = (self.steps - reported_steps) * self.options.batch * self.world / (time.time() - reported_at)
                line = f"step {self.steps} loss {mean_loss:.4f} done {share:.3f} {speed:.0f} pictures/s"
                print(line, flush=True)
                print(line, file=log, flush=True)
                losses, reported_at, reported_steps = [], time.time(), self.steps
            if log and time.time() - saved_at > CHECKPOINT_SECONDS:
                self.save()
                saved_at = time.time()
        if log:
            self.save()
            pictures = self.steps * self.options.batch * self.world
            print(f"finished: {self.steps} steps, {pictures} pictures", flush=True)

    @torch.no_grad()
    def write_fresh_pictures(self, count):
        """Maps (bytes, faint ones dropped) and truth (bits) of fresh pictures, padded to 320 x 320."""
        self.mean.eval()
        random.seed(424242 + self.options.seed)
        torch.manual_seed(424242 + self.options.seed)
        maps, truths, shapes = [], [], []
        while len(shapes) < count:
            height, width = SHAPES[len(maps) % len(SHAPES)]
            picture, label, _ = self.generator.batch(self.options.batch, height, width)
            found = torch.sigmoid(self.mean(picture))
            padding = (0, MAP_SIDE - width // 2, 0, MAP_SIDE - height // 2)
            maps.append((F.pad(found, padding) * 255).round().byte().cpu().numpy())
            truths.append((F.pad(label, padding) > 0.45).cpu().numpy())
            shapes += [(height, width)] * self.options.batch
        maps = np.concatenate(maps)
        maps[maps < 13] = 0
        truth = np.packbits(np.concatenate(truths))
        np.savez_compressed(os.path.join(self.options.out, "cal.npz"), M=maps, T=truth, sh=np.array(shapes))


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("out")
    options.add_argument("--minutes", type=float, default=22)
    options.add_argument("--steps", type=int, default=0, help="stop after so many steps instead")
    options.add_argument("--start", help="a checkpoint to go on from")
    options.add_argument("--rate", type=float, default=2e-3)
    options.add_argument("--batch", type=int, default=48, help="pictures a step on each GPU")
    options.add_argument("--seed", type=int, default=0)
    options.add_argument("--fresh", type=int, default=1024, help="pictures in cal.npz")
    options.add_argument("--device", default="cuda", choices=("cuda", "cpu"))
    options.add_argument("--batches-at-once", type=int, default=3, help="batches of scenes drawn together")
    options.add_argument("--views", type=int, default=2, help="photographs of each scene")
    options = options.parse_args()
    os.makedirs(options.out, exist_ok=True)
    training = Training(options)
    training.run()
    if training.rank == 0 and options.fresh:
        training.write_fresh_pictures(options.fresh)
        print("wrote cal.npz", flush=True)
    if training.world > 1:
        distributed.barrier()
        distributed.destroy_process_group()


if __name__ == "__main__":
    main()
