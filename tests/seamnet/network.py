"""The network: a small U-shaped one with long thin filters, for a seam is a long thin thing."""
import torch
import torch.nn as nn
import torch.nn.functional as F


class Conv(nn.Sequential):
    """Convolution, batch norm and, unless told otherwise, ReLU."""

    def __init__(self, inputs, outputs, size=3, stride=1, groups=1, relu=True):
        size = size if isinstance(size, tuple) else (size, size)
        padding = (size[0] // 2, size[1] // 2)
        layers = [
            nn.Conv2d(inputs, outputs, size, stride, padding, 1, groups, bias=False),
            nn.BatchNorm2d(outputs),
        ]
        super().__init__(*layers, *([nn.ReLU()] if relu else []))


class Strip(nn.Module):
    """Looks down and across with long thin filters, a channel at a time, and mixes what they saw."""

    def __init__(self, channels, length):
        super().__init__()
        self.down = Conv(channels, channels, (length, 1), groups=channels, relu=False)
        self.across = Conv(channels, channels, (1, length), groups=channels, relu=False)
        self.mix = Conv(2 * channels, channels, 1)

    def forward(self, x):
        return x + self.mix(F.relu(torch.cat((self.down(x), self.across(x)), 1)))


class Residual(nn.Module):
    def __init__(self, channels):
        super().__init__()
        self.first = Conv(channels, channels)
        self.second = Conv(channels, channels, relu=False)

    def forward(self, x):
        return F.relu(x + self.second(self.first(x)))


class SeamNet(nn.Module):
    """Picture [B,3,H,W] in 0..1, H and W multiples of 32, to logits [B,2,H/2,W/2]: seams down, seams across."""

    def __init__(self, channels=(16, 24, 48, 88, 128)):
        super().__init__()
        c0, c1, c2, c3, c4 = channels
        self.in0 = nn.Sequential(Conv(3, c0, 5, 2), Conv(c0, c0))
        self.in1 = nn.Sequential(Conv(c0, c1, 3, 2), Conv(c1, c1))
        self.in2 = nn.Sequential(Conv(c1, c2, 3, 2), Conv(c2, c2), Strip(c2, 15))
        self.in3 = nn.Sequential(Conv(c2, c3, 3, 2), Conv(c3, c3), Strip(c3, 15))
        self.in4 = nn.Sequential(Conv(c3, c4, 3, 2), Residual(c4), Strip(c4, 11), Strip(c4, 11))
        self.join3 = Conv(c4 + c3, c3, 1)
        self.out3 = nn.Sequential(Conv(c3, c3), Strip(c3, 15))
        self.join2 = Conv(c3 + c2, c2, 1)
        self.out2 = nn.Sequential(Conv(c2, c2), Strip(c2, 15), Conv(c2, c2))
        self.join1 = Conv(c2 + c1, c1, 1)
        self.out1 = nn.Sequential(Conv(c1, c1), Conv(c1, c1))
        self.join0 = Conv(c1 + c0, c0, 1)
        self.out0 = Conv(c0, c0)
        self.map = nn.Conv2d(c0, 2, 1)

    def forward(self, picture):
        def grown(x):
            return F.interpolate(x, scale_factor=2, mode="nearest")

        half = self.in0(picture - 0.5)
        quarter = self.in1(half)
        eighth = self.in2(quarter)
        sixteenth = self.in3(eighth)
        deepest = self.in4(sixteenth)
        sixteenth = self.out3(self.join3(torch.cat((grown(deepest), sixteenth), 1)))
        eighth = self.out2(self.join2(torch.cat((grown(sixteenth), eighth), 1)))
        quarter = self.out1(self.join1(torch.cat((grown(eighth), quarter), 1)))
        half = self.out0(self.join0(torch.cat((grown(quarter), half), 1)))
        return self.map(half)
