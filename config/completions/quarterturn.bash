# Completion of quarterturn's command line for bash.
# Installed as share/bash-completion/completions/quarterturn.

_quarterturn() {
    local word=${COMP_WORDS[COMP_CWORD]}
    local before=${COMP_WORDS[COMP_CWORD - 1]}
    local common="--config --layout --aircraft --standard --maneuver --events
        --quiet --verbose --version --help"
    local commands="listen replay debrief rehearse inspect discover tell brief
        sounds"
    local verbs="status mute unmute help-level maneuver aircraft mark again
        new-attempt reload record stop"
    local levels="full sparse warnings fading summary"
    local command="" verb="" own="" i

    COMPREPLY=()
    for ((i = 1; i < COMP_CWORD; i++)); do
        case ${COMP_WORDS[i]} in
        --config | --layout | --aircraft | --standard | --maneuver | --events | \
            --address | --port | --record | --wav | --seconds | --control | \
            --help-level | --speed | --output | --check | --weight | \
            --altitude | --temperature | --ground | --heading | --wind | \
            --direction | --page | --pages)
            # inspect's --check stands alone.
            [[ $command == inspect && ${COMP_WORDS[i]} == --check ]] ||
                i=$((i + 1))
            ;;
        -*) ;;
        *)
            if [[ -z $command ]]; then
                command=${COMP_WORDS[i]}
            elif [[ -z $verb ]]; then
                verb=${COMP_WORDS[i]}
            fi
            ;;
        esac
    done
    local errors="bank-shallow bank-steep bank-growing pitch-early pitch-late
        pitch-high pitch-low pitch-sag roll-out-early roll-out-late
        roll-out-uneven level-short level-past ball-out stall sink abandon"
    case $command in
    listen) own="--address --port --record --force --wav --seconds --control
        --no-sound --help-level --person --logbook --pages" ;;
    replay) own="--speed --wav --port --no-sound --help-level
        --person --pages" ;;
    debrief) own="--json --csv --attempt --person --port --logbook
        --page --pages" ;;
    rehearse) own="--direction --error --list --unsteady --turbulence --wind
        --weight --altitude --temperature --ground --heading --seed --rate
        --speed --address --port --record --truth --force --hold-at" ;;
    inspect) own="--address --port --seconds --json --check" ;;
    discover) own="--output --force --address --port --seconds --no-sound" ;;
    tell) own="--control --json" ;;
    brief) own="--weight --altitude --temperature --ground --direction
        --heading --wind --json --page" ;;
    sounds) own="--play --wav --check" ;;
    esac
    case $before in
    --help-level | help-level)
        mapfile -t COMPREPLY < <(compgen -W "$levels" -- "$word")
        return
        ;;
    --maneuver | maneuver)
        mapfile -t COMPREPLY < <(compgen -W chandelle -- "$word")
        return
        ;;
    --speed)
        mapfile -t COMPREPLY < <(compgen -W "0.5 1 2 8 max" -- "$word")
        return
        ;;
    --direction)
        mapfile -t COMPREPLY < <(compgen -W "left right" -- "$word")
        return
        ;;
    --turbulence)
        mapfile -t COMPREPLY < <(compgen -W "none light moderate" -- "$word")
        return
        ;;
    --error)
        mapfile -t COMPREPLY < <(compgen -W "$errors" -- "$word")
        return
        ;;
    record)
        if [[ $command == tell ]]; then
            mapfile -t COMPREPLY < <(compgen -W "on off" -- "$word")
            return
        fi
        ;;
    --check)
        if [[ $command == sounds ]]; then
            mapfile -t COMPREPLY < <(compgen -d -- "$word")
            return
        fi
        ;;
    --pages)
        mapfile -t COMPREPLY < <(compgen -d -- "$word")
        return
        ;;
    --config | --layout | --aircraft | --standard | --events | --record | \
        --wav | --control | --output | --truth | --page)
        mapfile -t COMPREPLY < <(compgen -f -- "$word")
        return
        ;;
    --unsteady | --wind | --weight | --altitude | --temperature | --ground | \
        --heading | --seed | --rate | --hold-at | \
        --address | --port | --seconds)
        return
        ;;
    esac
    if [[ $word == -* ]]; then
        mapfile -t COMPREPLY < <(compgen -W "$own $common" -- "$word")
    elif [[ -z $command ]]; then
        mapfile -t COMPREPLY < <(compgen -W "$commands" -- "$word")
    elif [[ $command == tell && -z $verb ]]; then
        mapfile -t COMPREPLY < <(compgen -W "$verbs" -- "$word")
    elif [[ $command == replay || $command == debrief ||
        $command == inspect || $command == discover || $verb == aircraft ]]; then
        mapfile -t COMPREPLY < <(compgen -f -- "$word")
    fi
}

complete -F _quarterturn quarterturn
