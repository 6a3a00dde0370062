from __future__ import annotations

import boto3
import pytest
from botocore.exceptions import ClientError
from botocore.stub import Stubber

from coachhub.common.preparing import ensure_bucket

pytestmark = pytest.mark.unit


@pytest.fixture
def store():
    """A client whose answers are checked against the store's published service model by botocore itself."""
    client = boto3.client("s3", aws_access_key_id="a", aws_secret_access_key="b", region_name="us-east-1")
    with Stubber(client) as stub:
        yield client, stub
        stub.assert_no_pending_responses()


def test_a_missing_bucket_is_made(store):
    client, stub = store
    stub.add_client_error("head_bucket", "404", http_status_code=404, expected_params={"Bucket": "clips"})
    stub.add_response("create_bucket", {}, {"Bucket": "clips"})
    assert ensure_bucket(client, "clips") is True


def test_a_bucket_that_is_there_is_left_alone(store):
    client, stub = store
    stub.add_response("head_bucket", {}, {"Bucket": "clips"})
    assert ensure_bucket(client, "clips") is False


def test_a_bucket_of_somebody_else_is_an_error(store):
    client, stub = store
    stub.add_client_error("head_bucket", "403", http_status_code=403)
    with pytest.raises(ClientError):
        ensure_bucket(client, "clips")
