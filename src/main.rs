fn main() {
    let start = match std::env::args().nth(1) {
        Some(path) => lengthfilm::desktop::StartWith::Film(path.into()),
        None => lengthfilm::desktop::StartWith::Demo,
    };
    lengthfilm::desktop::run(start).unwrap();
}
