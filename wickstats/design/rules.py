"""temp"""


def check_parts(values, folder, out):
    return
