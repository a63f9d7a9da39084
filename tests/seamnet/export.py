"""Writes a checkpoint's weights as ONNX: python export.py OUT/ck.pt seamnet.onnx

The running mean of the weights is taken, batch norms are folded into the convolutions, weights are stored as 16-bit
floats and cast on load. Input "picture" [1,3,H,W], RGB 0..1, H and W multiples of 32; output "seam" [1,2,H/2,W/2],
probabilities.
"""
import hashlib
import sys

import numpy as np
import onnx
import torch
import torch.nn as nn
from onnx import TensorProto, helper, numpy_helper
from torch.nn.utils.fusion import fuse_conv_bn_eval

from network import SeamNet

KEPT_IN_FULL = 64  # tensors of up to so many numbers stay 32-bit


class Probabilities(nn.Module):
    def __init__(self, net):
        super().__init__()
        self.net = net

    def forward(self, picture):
        return torch.sigmoid(self.net(picture))


def folded(net):
    for module in net.modules():
        if isinstance(module, nn.Sequential) and len(module) > 1 and isinstance(module[1], nn.BatchNorm2d):
            module[0] = fuse_conv_bn_eval(module[0], module[1])
            module[1] = nn.Identity()
    return net


def halve_weights(model):
    graph, casts = model.graph, []
    for tensor in list(graph.initializer):
        values = numpy_helper.to_array(tensor)
        if values.dtype == np.float32 and values.size > KEPT_IN_FULL:
            name = tensor.name + "_half"
            graph.initializer.remove(tensor)
            graph.initializer.append(numpy_helper.from_array(values.astype(np.float16), name))
            casts.append(helper.make_node("Cast", [name], [tensor.name], to=TensorProto.FLOAT))
    for cast in reversed(casts):
        graph.node.insert(0, cast)


def main(checkpoint, path):
    net = SeamNet()
    net.load_state_dict(torch.load(checkpoint, map_location="cpu")["mean"])
    parameters = sum(parameter.numel() for parameter in net.parameters())
    torch.onnx.export(
        Probabilities(folded(net.eval())).eval(),
        (torch.rand(1, 3, 480, 640),),
        path,
        opset_version=13,
        input_names=["picture"],
        output_names=["seam"],
        dynamic_axes={"picture": {2: "height", 3: "width"}, "seam": {2: "half_height", 3: "half_width"}},
        dynamo=False,
    )
    model = onnx.load(path)
    halve_weights(model)
    onnx.checker.check_model(model)
    onnx.save(model, path)
    written = open(path, "rb").read()
    print(f"{path}: {len(written)} bytes, {parameters} parameters, sha256 {hashlib.sha256(written).hexdigest()}")
    print("operators:", " ".join(sorted({node.op_type for node in model.graph.node})))


if __name__ == "__main__":
    main(*sys.argv[1:])
