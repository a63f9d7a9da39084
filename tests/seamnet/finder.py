"""Seam map to seam lines: the best pieces of path through the map, by dynamic programming.

For trying a network out. The program has its own finder.
"""
import cv2
import numpy as np

LONG_SIDE = 640
LEAST = 0.15  # a map value below this costs, one above it gains
SIDESTEP = 0.04  # what a step to the next column costs
LEAST_SCORE, LEAST_ROWS = 3, 16


def seam_map(session, picture):
    """The network's maps [2,h,w] of an RGB picture of bytes, and picture pixels per pixel of its input."""
    height, width = picture.shape[:2]
    scale = LONG_SIDE / max(height, width)
    rows, columns = (max(64, int(round(side * scale / 32)) * 32) for side in (height, width))
    kind = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    small = cv2.resize(picture, (columns, rows), interpolation=kind).astype(np.float32) / 255
    maps = session.run(None, {"picture": np.ascontiguousarray(small.transpose(2, 0, 1)[None])})[0][0]
    return maps, width / columns, height / rows


def best_path(probability):
    """Rows, columns and score of the best piece of a path from above to below, one column a row at most."""
    height, width = probability.shape
    before = np.zeros(width, np.float32)
    score, came = np.zeros((height, width), np.float32), np.zeros((height, width), np.int8)
    wall = np.full(1, -1e9, np.float32)
    for row in range(height):
        left = np.concatenate((wall, before[:-1])) - SIDESTEP
        right = np.concatenate((before[1:], wall)) - SIDESTEP
        choices = np.stack((np.zeros(width, np.float32), before, left, right))
        came[row] = choices.argmax(0)
        before = choices.max(0) + probability[row] - LEAST
        score[row] = before
    row, column = np.unravel_index(score.argmax(), score.shape)
    best, rows, columns = float(score[row, column]), [], []
    while True:
        rows.append(row)
        columns.append(column)
        if came[row, column] == 0 or row == 0:
            return np.array(rows[::-1]), np.array(columns[::-1]), best
        column += (0, 0, -1, 1)[came[row, column]]
        row -= 1


def middle_of_ridge(probability, rows, columns):
    """The path to a fraction of a pixel: the weighted middle of three columns to each side, smoothed along it."""
    near = np.clip(columns[:, None] + np.arange(-3, 4), 0, probability.shape[1] - 1)
    mass = probability[rows[:, None], near] ** 2 + 1e-6
    middle = (mass * near).sum(1) / mass.sum(1)
    weight = probability[rows, columns] + 1e-3
    kernel = np.exp(-0.5 * (np.arange(-6, 7) / 2.5) ** 2)
    return np.convolve(middle * weight, kernel, "same") / np.convolve(weight, kernel, "same")


def find(session, picture, most=4):
    """Lines as points [n,2] in picture pixels, with their scores, best first."""
    maps, scale_x, scale_y = seam_map(session, picture)
    found = []
    for runs, probability in (("down", maps[0].copy()), ("across", maps[1].T.copy())):
        for _ in range(most):
            rows, columns, score = best_path(probability)
            if score < LEAST_SCORE:
                break
            if len(rows) >= LEAST_ROWS:
                across = (middle_of_ridge(probability, rows, columns) + 0.5) * 2
                along = (rows + 0.5) * 2
                x, y = (across, along) if runs == "down" else (along, across)
                points = np.stack((x * scale_x - 0.5, y * scale_y - 0.5), 1)
                mean = float(probability[rows, columns].mean())
                found.append({"runs": runs, "points": points, "score": score, "mean": mean})
            for row, column in zip(rows, columns):
                probability[max(0, row - 1) : row + 2, max(0, column - 5) : column + 6] = 0
    return sorted(found, key=lambda line: -line["score"])[:most]
