//! Match marks of the examples meet in space.

use crate::examples;
use ribwright_tests::marks::check_marks;

#[test]
fn pairs_of_marks_meet_on_the_examples() {
    for (name, work) in examples() {
        let (pairs, _) = check_marks(&name, &work);
        assert!(pairs > 20, "{name}: only {pairs} pairs");
    }
}
