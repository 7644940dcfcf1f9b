"""What every test stands on; see tests/support for how it works."""

pytest_plugins = ("tests.support.harness", "tests.support.fixtures", "tests.support.browser")
