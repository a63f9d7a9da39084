"""A folder's photographs measured by Apache Spark: spark.py FOLDER LINES.jsonl [OPTIONS of lot]

SEAMSTEP names the binary. On a cluster, folder and binary must lie at the same path on every machine (or hand the binary
out with --files). Each partition starts the binary once and pipes its paths through it. The lines come back in any order;
seamstep tally sorts them.
"""

import os
import pathlib
import shlex
import sys

from pyspark.sql import SparkSession

# The endings of photographs that seamstep lot takes from a folder.
ENDINGS = {".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif"}


def main(folder: str, out: str, *options: str) -> None:
    spark = SparkSession.builder.appName("seamstep").config("spark.ui.enabled", "false").getOrCreate()
    paths = sorted(str(path) for path in pathlib.Path(folder).iterdir() if path.suffix.lower() in ENDINGS)
    command = shlex.join([os.environ.get("SEAMSTEP", "seamstep"), "lot", "--jsonl", "--threads", "1", *options])
    lines = spark.sparkContext.parallelize(paths, max(1, len(paths) // 4)).pipe(command, checkCode=True).collect()
    pathlib.Path(out).write_text("".join(line + "\n" for line in lines), encoding="utf-8")
    spark.stop()


if __name__ == "__main__":
    main(*sys.argv[1:])
