"""What we promise about speed, runnable by anyone: python -m benchmarks"""
