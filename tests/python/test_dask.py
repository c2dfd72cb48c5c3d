"""A sweep on a cluster of worker processes comes to the same bits as here."""

import os
import pickle

import pytest
import risefit as rf
from conftest import ROOT
from distributed import Client, LocalCluster

MOLD = rf.Mold.load(ROOT / "data/molds/armrest.toml")


@pytest.fixture(scope="module")
def client():
    with (
        LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        client.wait_for_workers(2, timeout=120)
        yield client


def cast(plan, start):
    """One block, and the process that cast it."""
    return plan.block(start, min(start + 50, len(plan)), threads=1), os.getpid()


def test_cluster_gets_the_same_bits(client):
    plan = rf.Sweep(
        rf.Grade("K"),
        MOLD,
        charge_g=(40, 72, 9),
        vent_mm=[0, 3, 5, 12],
        mold_temp_C=(15, 40, 12),
        mix_temp_C=23,
        closing_time_s=12,
    )
    futures = client.map(cast, [plan] * 9, range(0, len(plan), 50), pure=False)
    blocks, processes = zip(*client.gather(futures), strict=True)
    assert len(set(processes)) == 2 and os.getpid() not in processes
    here, there = plan.run(), plan.join(blocks)
    assert there.complete and pickle.dumps(there) == pickle.dumps(here)
    assert {"full", "short"} <= set(here.verdict.ravel())
